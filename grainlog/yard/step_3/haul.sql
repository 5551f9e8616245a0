CREATE TABLE haul_changes (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	haul_id INTEGER NOT NULL, 
	day TEXT NOT NULL, 
	what TEXT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	entered_at TEXT NOT NULL, 
	seal TEXT DEFAULT '' NOT NULL, 
	FOREIGN KEY(haul_id) REFERENCES hauls (id)
);
CREATE INDEX ix_haul_changes_haul_id ON haul_changes (haul_id);
