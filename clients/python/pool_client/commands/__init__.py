"""The subjects of the command line: each file has the commands of one, and says nothing of the others."""
