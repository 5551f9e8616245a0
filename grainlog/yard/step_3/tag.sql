CREATE TABLE reserved_numbers (
	number INTEGER NOT NULL, 
	log TEXT, 
	order_in_log INTEGER, 
	reserved_at TEXT NOT NULL, 
	seal TEXT DEFAULT '' NOT NULL, 
	PRIMARY KEY (number), 
	CHECK (number >= 1), 
	CHECK (order_in_log >= 1)
);
