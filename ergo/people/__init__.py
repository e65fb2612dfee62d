"""The load on one person: posture, joints, low back, holding time and crews."""
