"""An invented network of six shops: its terms, prices and three months, and the demonstration that they make."""
