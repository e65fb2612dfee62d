from ergo.web._shell import run

if __name__ == "__main__":
    run()
