-- The store of penwise, version 1. One table per record sheet, with the sheet's own columns first,
-- then three columns of bookkeeping that every sheet's table has. Read together with the contract in
-- analytics/sheets/contract.py; a test holds the two together.
--
-- Deliberately without foreign keys and secondary indexes: the load checks references in sets, one
-- writer at a time is certain (the file lock of DuckDB and the counter row in `store_meta`), and `penwise
-- check` looks again. Times of sheets are the breeder's local time; times of the ledger are UTC.
--
-- A row is never deleted. `withdrawn_in` names the ledger entry that set it aside; NULL = live.

CREATE TABLE store_meta (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    application VARCHAR NOT NULL,
    store_id VARCHAR NOT NULL,
    created_at TIMESTAMP NOT NULL,
    change_count BIGINT NOT NULL
);
COMMENT ON TABLE store_meta IS 'One row: what this file is, and how often it was changed';
COMMENT ON COLUMN store_meta.one IS 'Always 1: there is one row';
COMMENT ON COLUMN store_meta.application IS 'Always penwise';
COMMENT ON COLUMN store_meta.store_id IS 'Random name of this store, kept by copies';
COMMENT ON COLUMN store_meta.created_at IS 'When the store was made, UTC';
COMMENT ON COLUMN store_meta.change_count IS 'Grows with every writing transaction; caches are keyed by it';

CREATE TABLE migrations (
    version INTEGER PRIMARY KEY,
    name VARCHAR NOT NULL,
    applied_at TIMESTAMP NOT NULL,
    checksum VARCHAR NOT NULL
);
COMMENT ON TABLE migrations IS 'One row per change of the schema, written in the same transaction as the change';
COMMENT ON COLUMN migrations.version IS 'Schema version after this step';
COMMENT ON COLUMN migrations.name IS 'What the step did';
COMMENT ON COLUMN migrations.applied_at IS 'When, UTC';
COMMENT ON COLUMN migrations.checksum IS 'SHA-256 of the step as it was applied';

CREATE TABLE ledger (
    entry_no BIGINT PRIMARY KEY,
    kind VARCHAR NOT NULL,
    made_at TIMESTAMP NOT NULL,
    who VARCHAR NOT NULL,
    source VARCHAR NOT NULL,
    added BIGINT NOT NULL,
    corrected BIGINT NOT NULL,
    unchanged BIGINT NOT NULL,
    why VARCHAR
);
COMMENT ON TABLE ledger IS 'One row per committed load, correction, withdrawal or restored copy';
COMMENT ON COLUMN ledger.entry_no IS 'Number of the entry, growing; equals the change count it made';
COMMENT ON COLUMN ledger.kind IS 'load, withdraw, edit or restore';
COMMENT ON COLUMN ledger.made_at IS 'When, UTC';
COMMENT ON COLUMN ledger.who IS 'Name of the user who did it';
COMMENT ON COLUMN ledger.source IS 'File names loaded, or the page or command used';
COMMENT ON COLUMN ledger.added IS 'Rows added';
COMMENT ON COLUMN ledger.corrected IS 'Rows with at least one cell changed';
COMMENT ON COLUMN ledger.unchanged IS 'Rows that were there already, the same';
COMMENT ON COLUMN ledger.why IS 'Reason given';

CREATE TABLE history (
    entry_no BIGINT NOT NULL,
    sheet VARCHAR NOT NULL,
    row_key VARCHAR NOT NULL,
    column_name VARCHAR NOT NULL,
    old_value VARCHAR,
    new_value VARCHAR
);
COMMENT ON TABLE history IS 'One row per cell ever corrected, and per row withdrawn, in the transaction that did it';
COMMENT ON COLUMN history.entry_no IS 'Entry of the ledger that made the change (who and when)';
COMMENT ON COLUMN history.sheet IS 'Sheet of the row';
COMMENT ON COLUMN history.row_key IS 'row_key of the row';
COMMENT ON COLUMN history.column_name IS 'Column changed; withdrawn_in for a withdrawal';
COMMENT ON COLUMN history.old_value IS 'Value before, as text; NULL = not recorded';
COMMENT ON COLUMN history.new_value IS 'Value after, likewise';

CREATE TABLE pens (
    pen VARCHAR NOT NULL,
    species VARCHAR NOT NULL,
    line VARCHAR,
    hens_hatched_on DATE,
    "from" DATE,
    "to" DATE,
    males INTEGER,
    females INTEGER,
    notes VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE pens IS 'One row is a breeding pen (one mating group)';
COMMENT ON COLUMN pens.pen IS 'Your name for the pen';
COMMENT ON COLUMN pens.species IS 'Species key, such as coturnix_quail';
COMMENT ON COLUMN pens.line IS 'Strain or line';
COMMENT ON COLUMN pens.hens_hatched_on IS 'When the hens hatched (their age comes from this)';
COMMENT ON COLUMN pens."from" IS 'First day of the mating group';
COMMENT ON COLUMN pens."to" IS 'Last day; blank = still so';
COMMENT ON COLUMN pens.males IS 'Males present';
COMMENT ON COLUMN pens.females IS 'Females present';
COMMENT ON COLUMN pens.notes IS 'Anything else worth keeping';
COMMENT ON COLUMN pens.row_key IS 'Key of the row: pen; lower case, trimmed, joined by |';
COMMENT ON COLUMN pens.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN pens.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE incubators (
    incubator VARCHAR NOT NULL,
    role VARCHAR,
    air VARCHAR,
    capacity_eggs INTEGER,
    notes VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE incubators IS 'One row is a machine';
COMMENT ON COLUMN incubators.incubator IS 'Your name for the machine';
COMMENT ON COLUMN incubators.role IS 'What it is used as';
COMMENT ON COLUMN incubators.air IS 'Forced (fan) or still air';
COMMENT ON COLUMN incubators.capacity_eggs IS 'Eggs it holds';
COMMENT ON COLUMN incubators.notes IS 'Anything else worth keeping';
COMMENT ON COLUMN incubators.row_key IS 'Key of the row: incubator; lower case, trimmed, joined by |';
COMMENT ON COLUMN incubators.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN incubators.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE batches (
    batch VARCHAR NOT NULL,
    incubator VARCHAR NOT NULL,
    hatcher VARCHAR,
    set_on TIMESTAMP NOT NULL,
    transfer_on TIMESTAMP,
    pulled_on TIMESTAMP,
    notes VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE batches IS 'One row is eggs set together in one machine';
COMMENT ON COLUMN batches.batch IS 'Your name for the batch';
COMMENT ON COLUMN batches.incubator IS 'The machine''s label';
COMMENT ON COLUMN batches.hatcher IS 'Machine from transfer on; blank = the same';
COMMENT ON COLUMN batches.set_on IS 'When set, with the hour if you can';
COMMENT ON COLUMN batches.transfer_on IS 'When moved to the hatcher';
COMMENT ON COLUMN batches.pulled_on IS 'When the hatch was taken out; until then the batch is open';
COMMENT ON COLUMN batches.notes IS 'Anything else worth keeping';
COMMENT ON COLUMN batches.row_key IS 'Key of the row: batch; lower case, trimmed, joined by |';
COMMENT ON COLUMN batches.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN batches.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE birds (
    bird VARCHAR NOT NULL,
    sex VARCHAR NOT NULL,
    sire VARCHAR,
    dam VARCHAR,
    hatched_on DATE,
    species VARCHAR,
    notes VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE birds IS 'One row is a breeder';
COMMENT ON COLUMN birds.bird IS 'Ring number or name';
COMMENT ON COLUMN birds.sex IS 'M or f';
COMMENT ON COLUMN birds.sire IS 'Its father';
COMMENT ON COLUMN birds.dam IS 'Its mother';
COMMENT ON COLUMN birds.hatched_on IS 'Day of hatch';
COMMENT ON COLUMN birds.species IS 'Species key';
COMMENT ON COLUMN birds.notes IS 'Anything else worth keeping';
COMMENT ON COLUMN birds.row_key IS 'Key of the row: bird; lower case, trimmed, joined by |';
COMMENT ON COLUMN birds.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN birds.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE pen_birds (
    pen VARCHAR NOT NULL,
    bird VARCHAR NOT NULL,
    "from" DATE NOT NULL,
    "to" DATE,
    left_because VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE pen_birds IS 'One row is a bird''s stay in a pen';
COMMENT ON COLUMN pen_birds.pen IS 'The pen''s label';
COMMENT ON COLUMN pen_birds.bird IS 'The bird';
COMMENT ON COLUMN pen_birds."from" IS 'First day in the pen';
COMMENT ON COLUMN pen_birds."to" IS 'Last day; blank = still there';
COMMENT ON COLUMN pen_birds.left_because IS 'Why it left';
COMMENT ON COLUMN pen_birds.row_key IS 'Key of the row: pen, bird, from; lower case, trimmed, joined by |';
COMMENT ON COLUMN pen_birds.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN pen_birds.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE trays (
    batch VARCHAR NOT NULL,
    tray VARCHAR NOT NULL,
    pen VARCHAR NOT NULL,
    sire VARCHAR,
    dam VARCHAR,
    laid_from DATE,
    laid_to DATE,
    storage_days DOUBLE,
    storage_c DOUBLE,
    storage_rh DOUBLE,
    eggs_set INTEGER NOT NULL,
    hatched INTEGER,
    culled INTEGER,
    infertile INTEGER,
    clear INTEGER,
    early_dead INTEGER,
    mid_dead INTEGER,
    late_dead INTEGER,
    internal_pip INTEGER,
    external_pip INTEGER,
    rotten INTEGER,
    cracked INTEGER,
    not_opened INTEGER,
    tare_g DOUBLE,
    weighed_set INTEGER,
    weight_set_g DOUBLE,
    weighed_transfer INTEGER,
    weight_transfer_g DOUBLE,
    weighed_on TIMESTAMP,
    candled_on DATE,
    removed_at_candling INTEGER,
    opened_on DATE,
    notes VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE trays IS 'One row is eggs of one pen and one storage group within a batch';
COMMENT ON COLUMN trays.batch IS 'The batch''s label';
COMMENT ON COLUMN trays.tray IS 'Your name for the tray within the batch';
COMMENT ON COLUMN trays.pen IS 'The pen''s label';
COMMENT ON COLUMN trays.sire IS 'Father of the eggs, if known';
COMMENT ON COLUMN trays.dam IS 'Mother of the eggs, if known';
COMMENT ON COLUMN trays.laid_from IS 'First day these eggs were laid';
COMMENT ON COLUMN trays.laid_to IS 'Last day these eggs were laid';
COMMENT ON COLUMN trays.storage_days IS 'Mean days stored before setting';
COMMENT ON COLUMN trays.storage_c IS 'Temperature of the store, °C';
COMMENT ON COLUMN trays.storage_rh IS 'Humidity of the store, % relative humidity';
COMMENT ON COLUMN trays.eggs_set IS 'Eggs set';
COMMENT ON COLUMN trays.hatched IS 'Live chicks kept';
COMMENT ON COLUMN trays.culled IS 'Live chicks not kept';
COMMENT ON COLUMN trays.infertile IS 'Opened and judged infertile by the germinal disc';
COMMENT ON COLUMN trays.clear IS 'No development seen, not told apart (infertile, or dead before anything shows)';
COMMENT ON COLUMN trays.early_dead IS 'Dead early (stages by day: see your species)';
COMMENT ON COLUMN trays.mid_dead IS 'Dead in the middle';
COMMENT ON COLUMN trays.late_dead IS 'Dead late, not pipped';
COMMENT ON COLUMN trays.internal_pip IS 'Beak in the air cell, shell whole, dead';
COMMENT ON COLUMN trays.external_pip IS 'Shell broken by the chick, not out, dead';
COMMENT ON COLUMN trays.rotten IS 'Rotten or burst, stage not known';
COMMENT ON COLUMN trays.cracked IS 'Cracked before or at setting; still counted in rates of set, in no other';
COMMENT ON COLUMN trays.not_opened IS 'Did not hatch and was not opened';
COMMENT ON COLUMN trays.tare_g IS 'Empty tray, g';
COMMENT ON COLUMN trays.weighed_set IS 'Eggs on the tray when weighed at setting';
COMMENT ON COLUMN trays.weight_set_g IS 'Tray with eggs at setting, g';
COMMENT ON COLUMN trays.weighed_transfer IS 'Eggs on the tray when weighed at transfer';
COMMENT ON COLUMN trays.weight_transfer_g IS 'Tray with eggs at transfer, g';
COMMENT ON COLUMN trays.weighed_on IS 'When weighed the second time';
COMMENT ON COLUMN trays.candled_on IS 'Day of candling';
COMMENT ON COLUMN trays.removed_at_candling IS 'Eggs taken out at candling (also counted in their outcome)';
COMMENT ON COLUMN trays.opened_on IS 'Day the unhatched eggs were opened';
COMMENT ON COLUMN trays.notes IS 'Anything else worth keeping';
COMMENT ON COLUMN trays.row_key IS 'Key of the row: batch, tray; lower case, trimmed, joined by |';
COMMENT ON COLUMN trays.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN trays.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE diets (
    pen VARCHAR NOT NULL,
    "from" DATE NOT NULL,
    "to" DATE,
    feed VARCHAR,
    calcium_pct DOUBLE,
    protein_pct DOUBLE,
    supplement VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE diets IS 'One row is a feed period of a pen';
COMMENT ON COLUMN diets.pen IS 'The pen''s label';
COMMENT ON COLUMN diets."from" IS 'First day';
COMMENT ON COLUMN diets."to" IS 'Last day; blank = still so';
COMMENT ON COLUMN diets.feed IS 'Name of the feed';
COMMENT ON COLUMN diets.calcium_pct IS 'Calcium, % of feed';
COMMENT ON COLUMN diets.protein_pct IS 'Protein, % of feed';
COMMENT ON COLUMN diets.supplement IS 'Anything added';
COMMENT ON COLUMN diets.row_key IS 'Key of the row: pen, from; lower case, trimmed, joined by |';
COMMENT ON COLUMN diets.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN diets.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE changes (
    changed_on DATE NOT NULL,
    scope VARCHAR NOT NULL,
    target VARCHAR,
    what VARCHAR NOT NULL,
    why VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE changes IS 'One row is something deliberately changed';
COMMENT ON COLUMN changes.changed_on IS 'The day';
COMMENT ON COLUMN changes.scope IS 'What it touched';
COMMENT ON COLUMN changes.target IS 'Which pen or machine';
COMMENT ON COLUMN changes.what IS 'What was changed';
COMMENT ON COLUMN changes.why IS 'Why';
COMMENT ON COLUMN changes.row_key IS 'Key of the row: changed_on, scope, target, what; lower case, trimmed, joined by |';
COMMENT ON COLUMN changes.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN changes.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE hatch_counts (
    batch VARCHAR NOT NULL,
    tray VARCHAR,
    counted_at TIMESTAMP NOT NULL,
    out_so_far INTEGER NOT NULL,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE hatch_counts IS 'One row is chicks out so far';
COMMENT ON COLUMN hatch_counts.batch IS 'The batch''s label';
COMMENT ON COLUMN hatch_counts.tray IS 'The tray; blank = the whole batch';
COMMENT ON COLUMN hatch_counts.counted_at IS 'When counted, with the hour';
COMMENT ON COLUMN hatch_counts.out_so_far IS 'Chicks out so far';
COMMENT ON COLUMN hatch_counts.row_key IS 'Key of the row: batch, tray, counted_at; lower case, trimmed, joined by |';
COMMENT ON COLUMN hatch_counts.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN hatch_counts.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE climate (
    incubator VARCHAR NOT NULL,
    "at" TIMESTAMP NOT NULL,
    temperature_c DOUBLE,
    humidity_pct DOUBLE,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE climate IS 'One row is a logger reading';
COMMENT ON COLUMN climate.incubator IS 'The machine''s label';
COMMENT ON COLUMN climate."at" IS 'Time of the reading';
COMMENT ON COLUMN climate.temperature_c IS 'Air at egg height (still air: egg top), °C';
COMMENT ON COLUMN climate.humidity_pct IS 'Relative humidity, %';
COMMENT ON COLUMN climate.row_key IS 'Key of the row: incubator, at; lower case, trimmed, joined by |';
COMMENT ON COLUMN climate.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN climate.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE checks (
    incubator VARCHAR NOT NULL,
    "at" TIMESTAMP NOT NULL,
    displayed_c DOUBLE,
    reference_c DOUBLE,
    displayed_rh DOUBLE,
    reference_rh DOUBLE,
    reference VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE checks IS 'One row is a display read beside a reference instrument';
COMMENT ON COLUMN checks.incubator IS 'The machine''s label';
COMMENT ON COLUMN checks."at" IS 'When';
COMMENT ON COLUMN checks.displayed_c IS 'What the machine shows, °C';
COMMENT ON COLUMN checks.reference_c IS 'What the reference thermometer shows, °C';
COMMENT ON COLUMN checks.displayed_rh IS 'What the machine shows, % relative humidity';
COMMENT ON COLUMN checks.reference_rh IS 'What the reference instrument shows, % relative humidity';
COMMENT ON COLUMN checks.reference IS 'Which reference instrument';
COMMENT ON COLUMN checks.row_key IS 'Key of the row: incubator, at; lower case, trimmed, joined by |';
COMMENT ON COLUMN checks.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN checks.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE incubator_events (
    incubator VARCHAR NOT NULL,
    "at" TIMESTAMP NOT NULL,
    event VARCHAR NOT NULL,
    minutes DOUBLE,
    notes VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE incubator_events IS 'One row is something that happened to a machine';
COMMENT ON COLUMN incubator_events.incubator IS 'The machine''s label';
COMMENT ON COLUMN incubator_events."at" IS 'When';
COMMENT ON COLUMN incubator_events.event IS 'What';
COMMENT ON COLUMN incubator_events.minutes IS 'How long, minutes';
COMMENT ON COLUMN incubator_events.notes IS 'Anything else worth keeping';
COMMENT ON COLUMN incubator_events.row_key IS 'Key of the row: incubator, at, event; lower case, trimmed, joined by |';
COMMENT ON COLUMN incubator_events.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN incubator_events.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE candlings (
    batch VARCHAR NOT NULL,
    tray VARCHAR NOT NULL,
    "on" DATE NOT NULL,
    eggs INTEGER,
    clear INTEGER,
    dead INTEGER,
    cracked INTEGER,
    removed INTEGER,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE candlings IS 'One row is a tray looked through with a light';
COMMENT ON COLUMN candlings.batch IS 'The batch''s label';
COMMENT ON COLUMN candlings.tray IS 'The tray';
COMMENT ON COLUMN candlings."on" IS 'Day of candling';
COMMENT ON COLUMN candlings.eggs IS 'Eggs looked at';
COMMENT ON COLUMN candlings.clear IS 'Clear';
COMMENT ON COLUMN candlings.dead IS 'Dead';
COMMENT ON COLUMN candlings.cracked IS 'Cracked';
COMMENT ON COLUMN candlings.removed IS 'Taken out';
COMMENT ON COLUMN candlings.row_key IS 'Key of the row: batch, tray, on; lower case, trimmed, joined by |';
COMMENT ON COLUMN candlings.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN candlings.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE targets (
    species VARCHAR NOT NULL,
    measure VARCHAR NOT NULL,
    target DOUBLE NOT NULL,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE targets IS 'One row is the breeder''s own aim';
COMMENT ON COLUMN targets.species IS 'Species key';
COMMENT ON COLUMN targets.measure IS 'Which rate';
COMMENT ON COLUMN targets.target IS 'Aim as a share, 0..1';
COMMENT ON COLUMN targets.row_key IS 'Key of the row: species, measure; lower case, trimmed, joined by |';
COMMENT ON COLUMN targets.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN targets.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE opened_eggs (
    batch VARCHAR NOT NULL,
    tray VARCHAR NOT NULL,
    egg INTEGER NOT NULL,
    "class" VARCHAR NOT NULL,
    day DOUBLE,
    dry_membrane BOOLEAN,
    malposition INTEGER,
    malformed BOOLEAN,
    smell BOOLEAN,
    shell_mm DOUBLE,
    notes VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE opened_eggs IS 'One row is one unhatched egg opened';
COMMENT ON COLUMN opened_eggs.batch IS 'The batch''s label';
COMMENT ON COLUMN opened_eggs.tray IS 'The tray';
COMMENT ON COLUMN opened_eggs.egg IS 'Number within the tray';
COMMENT ON COLUMN opened_eggs."class" IS 'Its outcome, as in trays';
COMMENT ON COLUMN opened_eggs.day IS 'Day of development it died, if judged';
COMMENT ON COLUMN opened_eggs.dry_membrane IS 'Membrane dry and tight';
COMMENT ON COLUMN opened_eggs.malposition IS '1 to 6';
COMMENT ON COLUMN opened_eggs.malformed IS 'Malformed';
COMMENT ON COLUMN opened_eggs.smell IS 'Smelled bad';
COMMENT ON COLUMN opened_eggs.shell_mm IS 'Shell thickness, mm';
COMMENT ON COLUMN opened_eggs.notes IS 'Anything else worth keeping';
COMMENT ON COLUMN opened_eggs.row_key IS 'Key of the row: batch, tray, egg; lower case, trimmed, joined by |';
COMMENT ON COLUMN opened_eggs.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN opened_eggs.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE fresh_eggs (
    pen VARCHAR NOT NULL,
    opened_on DATE NOT NULL,
    eggs INTEGER NOT NULL,
    fertile INTEGER NOT NULL,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE fresh_eggs IS 'One row is fresh eggs opened to read the germinal disc';
COMMENT ON COLUMN fresh_eggs.pen IS 'The pen''s label';
COMMENT ON COLUMN fresh_eggs.opened_on IS 'Day';
COMMENT ON COLUMN fresh_eggs.eggs IS 'Eggs opened';
COMMENT ON COLUMN fresh_eggs.fertile IS 'Of them fertile';
COMMENT ON COLUMN fresh_eggs.row_key IS 'Key of the row: pen, opened_on; lower case, trimmed, joined by |';
COMMENT ON COLUMN fresh_eggs.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN fresh_eggs.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE shells (
    pen VARCHAR NOT NULL,
    sampled_on DATE NOT NULL,
    eggs INTEGER,
    thickness_mm DOUBLE,
    specific_gravity DOUBLE,
    egg_weight_g DOUBLE,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE shells IS 'One row is a shell sample';
COMMENT ON COLUMN shells.pen IS 'The pen''s label';
COMMENT ON COLUMN shells.sampled_on IS 'Day';
COMMENT ON COLUMN shells.eggs IS 'Eggs measured';
COMMENT ON COLUMN shells.thickness_mm IS 'Mean shell thickness, mm';
COMMENT ON COLUMN shells.specific_gravity IS 'Mean specific gravity';
COMMENT ON COLUMN shells.egg_weight_g IS 'Mean egg weight, g';
COMMENT ON COLUMN shells.row_key IS 'Key of the row: pen, sampled_on; lower case, trimmed, joined by |';
COMMENT ON COLUMN shells.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN shells.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE lay (
    pen VARCHAR NOT NULL,
    "on" DATE NOT NULL,
    eggs INTEGER NOT NULL,
    hens INTEGER,
    set_aside INTEGER,
    why VARCHAR,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE lay IS 'One row is eggs a pen laid on a day';
COMMENT ON COLUMN lay.pen IS 'The pen''s label';
COMMENT ON COLUMN lay."on" IS 'Day';
COMMENT ON COLUMN lay.eggs IS 'Eggs laid';
COMMENT ON COLUMN lay.hens IS 'Hens present';
COMMENT ON COLUMN lay.set_aside IS 'Eggs not used for setting';
COMMENT ON COLUMN lay.why IS 'Why set aside';
COMMENT ON COLUMN lay.row_key IS 'Key of the row: pen, on; lower case, trimmed, joined by |';
COMMENT ON COLUMN lay.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN lay.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';

CREATE TABLE chicks (
    batch VARCHAR NOT NULL,
    tray VARCHAR NOT NULL,
    day INTEGER NOT NULL,
    alive INTEGER,
    dead INTEGER,
    malformed INTEGER,
    splay_leg INTEGER,
    row_key VARCHAR NOT NULL,
    added_in BIGINT NOT NULL,
    withdrawn_in BIGINT
);
COMMENT ON TABLE chicks IS 'One row is a tray''s chicks after the hatch';
COMMENT ON COLUMN chicks.batch IS 'The batch''s label';
COMMENT ON COLUMN chicks.tray IS 'The tray';
COMMENT ON COLUMN chicks.day IS 'Days after the hatch';
COMMENT ON COLUMN chicks.alive IS 'Alive';
COMMENT ON COLUMN chicks.dead IS 'Dead since hatch';
COMMENT ON COLUMN chicks.malformed IS 'Malformed';
COMMENT ON COLUMN chicks.splay_leg IS 'With splayed legs';
COMMENT ON COLUMN chicks.row_key IS 'Key of the row: batch, tray, day; lower case, trimmed, joined by |';
COMMENT ON COLUMN chicks.added_in IS 'Ledger entry that added the row';
COMMENT ON COLUMN chicks.withdrawn_in IS 'Ledger entry that withdrew the row; NULL = live';
