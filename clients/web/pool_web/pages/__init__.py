"""The pages, a file for each place of the site. None knows another; what several need stands one floor below."""
