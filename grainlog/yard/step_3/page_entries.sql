CREATE TABLE page_entries (
	id TEXT NOT NULL, 
	slab_number INTEGER, 
	readings TEXT NOT NULL, 
	kept_at TEXT NOT NULL, 
	taken_back_at TEXT, 
	PRIMARY KEY (id), 
	FOREIGN KEY(slab_number) REFERENCES slabs (number)
);
CREATE INDEX page_entries_by_slab ON page_entries (slab_number);
