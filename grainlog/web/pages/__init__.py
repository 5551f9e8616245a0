"""The pages, a module each: its `pages` (a Blueprint), its `MENU` entries, and `begin(app)` where it works in the background."""
