from ergo.web._frame import run

if __name__ == "__main__":
    run()
