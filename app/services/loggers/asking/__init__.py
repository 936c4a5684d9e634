"""Questions about a file and their answers, as boxes of the form and options of the verb."""
