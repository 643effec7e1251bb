"""The built-in rules, one trade area a file. They are loaded by path, like those of a site."""
