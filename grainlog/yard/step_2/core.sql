CREATE TABLE slabs_new (
	number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	log_id INTEGER NOT NULL,
	order_in_log INTEGER NOT NULL,
	surveyed_at TEXT NOT NULL,
	length_mm FLOAT,
	length_mm_u FLOAT,
	width_min_mm FLOAT,
	width_min_mm_u FLOAT,
	width_mean_mm FLOAT,
	width_mean_mm_u FLOAT,
	width_max_mm FLOAT,
	width_max_mm_u FLOAT,
	thickness_mm FLOAT,
	thickness_mm_u FLOAT,
	area_mm2 FLOAT,
	area_mm2_u FLOAT,
	volume_mm3 FLOAT,
	volume_mm3_u FLOAT,
	board_feet FLOAT,
	board_feet_u FLOAT,
	faces TEXT NOT NULL,
	one_face_only INTEGER NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	piece_of INTEGER,
	letter TEXT,
	CHECK (order_in_log >= 1),
	CHECK ((piece_of IS NULL) = (letter IS NULL)),
	FOREIGN KEY(log_id) REFERENCES logs (id),
	FOREIGN KEY(piece_of) REFERENCES slabs (number)
);
INSERT INTO slabs_new (number, log_id, order_in_log, surveyed_at, length_mm, length_mm_u, width_min_mm, width_min_mm_u, width_mean_mm, width_mean_mm_u, width_max_mm, width_max_mm_u, thickness_mm, thickness_mm_u, area_mm2, area_mm2_u, volume_mm3, volume_mm3_u, board_feet, board_feet_u, faces, one_face_only, seal) SELECT number, log_id, order_in_log, surveyed_at, length_mm, length_mm_u, width_min_mm, width_min_mm_u, width_mean_mm, width_mean_mm_u, width_max_mm, width_max_mm_u, thickness_mm, thickness_mm_u, area_mm2, area_mm2_u, volume_mm3, volume_mm3_u, board_feet, board_feet_u, faces, one_face_only, seal FROM slabs;
DELETE FROM sqlite_sequence WHERE name = 'slabs_new';
INSERT INTO sqlite_sequence (name, seq) SELECT 'slabs_new', seq FROM sqlite_sequence WHERE name = 'slabs';
DROP TABLE slabs;
ALTER TABLE slabs_new RENAME TO slabs;
CREATE INDEX ix_slabs_piece_of ON slabs (piece_of);
CREATE INDEX ix_slabs_surveyed_at ON slabs (surveyed_at);
CREATE INDEX slabs_by_area_mm2 ON slabs (area_mm2);
CREATE INDEX slabs_by_board_feet ON slabs (board_feet);
CREATE INDEX slabs_by_length_mm ON slabs (length_mm);
CREATE UNIQUE INDEX slabs_by_order ON slabs (log_id, order_in_log) WHERE piece_of IS NULL;
CREATE INDEX slabs_by_thickness_mm ON slabs (thickness_mm);
CREATE INDEX slabs_by_volume_mm3 ON slabs (volume_mm3);
CREATE INDEX slabs_by_width_max_mm ON slabs (width_max_mm);
CREATE INDEX slabs_by_width_mean_mm ON slabs (width_mean_mm);
CREATE INDEX slabs_by_width_min_mm ON slabs (width_min_mm);
CREATE TABLE surveys_new (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	slab_number INTEGER NOT NULL,
	side TEXT,
	surveyed_at TEXT NOT NULL,
	filed_at TEXT NOT NULL,
	photo_name TEXT NOT NULL,
	photo_sha256 TEXT NOT NULL,
	original_path TEXT NOT NULL,
	flat_path TEXT,
	flat_sha256 TEXT,
	overlay_path TEXT,
	overlay_sha256 TEXT,
	thickness_readings_mm TEXT NOT NULL,
	note TEXT NOT NULL,
	words_folded TEXT NOT NULL,
	record TEXT NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	cut_from INTEGER,
	before_cut INTEGER DEFAULT '0' NOT NULL,
	CHECK (side IN ('bark', 'heart')),
	FOREIGN KEY(slab_number) REFERENCES slabs (number),
	FOREIGN KEY(cut_from) REFERENCES surveys (id)
);
INSERT INTO surveys_new (id, slab_number, side, surveyed_at, filed_at, photo_name, photo_sha256, original_path, flat_path, flat_sha256, overlay_path, overlay_sha256, thickness_readings_mm, note, words_folded, record, seal) SELECT id, slab_number, side, surveyed_at, filed_at, photo_name, photo_sha256, original_path, flat_path, flat_sha256, overlay_path, overlay_sha256, thickness_readings_mm, note, words_folded, record, seal FROM surveys;
DELETE FROM sqlite_sequence WHERE name = 'surveys_new';
INSERT INTO sqlite_sequence (name, seq) SELECT 'surveys_new', seq FROM sqlite_sequence WHERE name = 'surveys';
DROP TABLE surveys;
ALTER TABLE surveys_new RENAME TO surveys;
CREATE INDEX ix_surveys_cut_from ON surveys (cut_from);
CREATE INDEX ix_surveys_slab_number ON surveys (slab_number);
CREATE UNIQUE INDEX surveys_by_photo ON surveys (photo_sha256) WHERE cut_from IS NULL;
