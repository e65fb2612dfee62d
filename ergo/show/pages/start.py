from ergo.show.pages._shell import run

run()
