CREATE TABLE logs (
    id INTEGER NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    species TEXT,
    species_folded TEXT DEFAULT '' NOT NULL,
    started_at TEXT NOT NULL,
    seal TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (id),
    UNIQUE (name_folded)
);
CREATE INDEX ix_logs_species_folded ON logs (species_folded);
CREATE TABLE settings (
    name TEXT NOT NULL,
    value TEXT NOT NULL,
    set_at TEXT NOT NULL,
    PRIMARY KEY (name)
);
CREATE TABLE slabs (
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
    UNIQUE (log_id, order_in_log),
    CHECK (order_in_log >= 1),
    FOREIGN KEY(log_id) REFERENCES logs (id)
);
CREATE INDEX ix_slabs_surveyed_at ON slabs (surveyed_at);
CREATE INDEX slabs_by_area_mm2 ON slabs (area_mm2);
CREATE INDEX slabs_by_board_feet ON slabs (board_feet);
CREATE INDEX slabs_by_length_mm ON slabs (length_mm);
CREATE INDEX slabs_by_thickness_mm ON slabs (thickness_mm);
CREATE INDEX slabs_by_volume_mm3 ON slabs (volume_mm3);
CREATE INDEX slabs_by_width_max_mm ON slabs (width_max_mm);
CREATE INDEX slabs_by_width_mean_mm ON slabs (width_mean_mm);
CREATE INDEX slabs_by_width_min_mm ON slabs (width_min_mm);
CREATE TABLE surveys (
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
    CHECK (side IN ('bark', 'heart')),
    FOREIGN KEY(slab_number) REFERENCES slabs (number),
    UNIQUE (photo_sha256)
);
CREATE INDEX ix_surveys_slab_number ON surveys (slab_number);
CREATE TABLE outlines (
    id INTEGER NOT NULL,
    survey_id INTEGER NOT NULL,
    kind TEXT NOT NULL,
    part INTEGER NOT NULL,
    points_mm TEXT NOT NULL,
    PRIMARY KEY (id),
    UNIQUE (survey_id, kind, part),
    CHECK (kind IN ('wood', 'bark', 'hole')),
    FOREIGN KEY(survey_id) REFERENCES surveys (id)
);
