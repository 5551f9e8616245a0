CREATE TABLE page_devices (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	name TEXT NOT NULL, 
	token_sha256 TEXT NOT NULL, 
	paired_at TEXT NOT NULL, 
	seen_at TEXT NOT NULL, 
	revoked_at TEXT, 
	UNIQUE (token_sha256)
);
CREATE TABLE page_links (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	note TEXT NOT NULL, 
	token_sha256 TEXT NOT NULL, 
	made_at TEXT NOT NULL, 
	until TEXT NOT NULL, 
	revoked_at TEXT, 
	UNIQUE (token_sha256)
);
