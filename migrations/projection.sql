-- Projections: everything here is derived from the ledger and may be dropped and rebuilt.
-- Their version stands in src/projection/mod.rs; raise it with any change of this file or of a fold.
--
-- Whole numbers of quanta (see src/units/measure.rs): lengths in nm, times in ms, forces in mN,
-- torques in mN·m, doglegs in 1e-9 deg/m, stresses in Pa, ratios in 1e-9, turns in 1e-3, damage in
-- 1e-15. Instants in ms of UTC. `_lo` and `_hi` bound a value that may not be known exactly; a null
-- `_hi` is unbounded. Words of closed vocabularies stand as words.
-- `entry` columns are positions in the ledger; a joint's id is the position of its first entry.

CREATE TABLE projection_state (
    only            INTEGER PRIMARY KEY CHECK (only = 1),
    version         INTEGER NOT NULL,
    -- Last position folded in.
    position        INTEGER NOT NULL
) STRICT;

-- ------------------------------------------------------------------ one row per joint
CREATE TABLE joint (
    joint               INTEGER PRIMARY KEY,
    name                TEXT NOT NULL,          -- entry that introduced it, as written
    serial              TEXT NOT NULL,
    component           TEXT NOT NULL,
    grade               TEXT,
    od                  INTEGER,
    wall_nominal        INTEGER,
    weight              INTEGER,
    length              INTEGER,
    connection          TEXT,
    box_connection      TEXT,
    tj_od_nominal       INTEGER,
    tj_id_nominal       INTEGER,
    heat                TEXT,
    pin_heat            TEXT,
    box_heat            TEXT,
    weld_lot            TEXT,
    maker               TEXT,
    mill_order          TEXT,
    certificate         TEXT,
    made                INTEGER,
    owner               TEXT,
    range               TEXT,
    coating             TEXT,
    hardband_alloy      TEXT,
    entered             INTEGER NOT NULL,
    entered_new         INTEGER NOT NULL,
    -- custody
    location            TEXT,
    string              TEXT,
    status              TEXT NOT NULL,
    hire                TEXT,
    on_hire             INTEGER NOT NULL,
    moved               INTEGER,
    -- condition today
    class               TEXT,
    tube_class          TEXT,
    pin_class           TEXT,
    box_class           TEXT,
    class_entry         INTEGER,
    criterion           TEXT,
    declared_class      TEXT,
    class_disputed      INTEGER NOT NULL,
    disposition         TEXT,
    restriction         TEXT,
    out                 INTEGER NOT NULL,       -- not fit to run
    out_reason          TEXT,
    not_measured        TEXT,
    wall                INTEGER,
    wall_thickness      INTEGER,
    wall_read           INTEGER,
    body_od             INTEGER,
    slip_od             INTEGER,
    pin_od              INTEGER,
    pin_id              INTEGER,
    pin_shoulder        INTEGER,
    pin_stretch         INTEGER,
    pin_tong            INTEGER,
    box_od              INTEGER,
    box_shoulder        INTEGER,
    box_counterbore     INTEGER,
    box_tong            INTEGER,
    hardband            TEXT,
    hardband_height     INTEGER,
    paint               TEXT,
    inspected           INTEGER,
    open_findings       INTEGER NOT NULL,
    seen                INTEGER NOT NULL,       -- what its records hold at all (src/projection/seen.rs)
    pin_generation      INTEGER NOT NULL,
    box_generation      INTEGER NOT NULL,
    failed              INTEGER,
    failure             TEXT,
    -- life so far
    runs                INTEGER NOT NULL,
    runs_complete       INTEGER NOT NULL,       -- no stretch of life without knowledge
    unknown_until       INTEGER,                -- end of the last such stretch; null: none
    conflicted          INTEGER NOT NULL,
    last_run            INTEGER,
    hours_lo            INTEGER NOT NULL,
    hours_hi            INTEGER,
    revolutions_lo      INTEGER NOT NULL,
    revolutions_hi      INTEGER,
    footage_lo          INTEGER NOT NULL,
    footage_hi          INTEGER,
    damage_lo           INTEGER NOT NULL,
    damage_hi           INTEGER,
    damage_pin          INTEGER NOT NULL,       -- by place, lower bounds
    damage_middle       INTEGER NOT NULL,
    damage_box          INTEGER NOT NULL,
    pin_makeups_lo      INTEGER NOT NULL,
    pin_makeups_hi      INTEGER,
    box_makeups_lo      INTEGER NOT NULL,
    box_makeups_hi      INTEGER,
    max_dogleg_lo       INTEGER NOT NULL,
    max_dogleg_hi       INTEGER,
    max_tension_lo      INTEGER NOT NULL,
    max_tension_hi      INTEGER,
    cased_hours_lo      INTEGER NOT NULL,
    cased_hours_hi      INTEGER,
    open_turns_lo       INTEGER NOT NULL,
    open_turns_hi       INTEGER,
    side_work_lo        INTEGER NOT NULL,
    side_work_hi        INTEGER,
    over_limit_lo       INTEGER NOT NULL,       -- turns above the no-fatigue dogleg
    over_limit_hi       INTEGER,
    histogram           BLOB NOT NULL,          -- turns and hours by dogleg band, lower bound
    records_digest      INTEGER NOT NULL        -- of the record rows below that a fold wrote
) STRICT;
CREATE INDEX joint_serial ON joint (serial);
CREATE INDEX joint_string ON joint (string) WHERE string IS NOT NULL;

-- Counters since the latest inspection that covers a scope (or since entry, for a joint that was
-- never so inspected).
CREATE TABLE since (
    scope               TEXT NOT NULL,
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER,                -- null: no such inspection yet
    hours_lo            INTEGER NOT NULL,
    hours_hi            INTEGER,
    revolutions_lo      INTEGER NOT NULL,
    revolutions_hi      INTEGER,
    footage_lo          INTEGER NOT NULL,
    footage_hi          INTEGER,
    damage_lo           INTEGER NOT NULL,
    damage_hi           INTEGER,
    pin_makeups_lo      INTEGER NOT NULL,
    pin_makeups_hi      INTEGER,
    box_makeups_lo      INTEGER NOT NULL,
    box_makeups_hi      INTEGER,
    max_dogleg_lo       INTEGER NOT NULL,
    max_dogleg_hi       INTEGER,
    max_tension_lo      INTEGER NOT NULL,
    max_tension_hi      INTEGER,
    cased_hours_lo      INTEGER NOT NULL,
    cased_hours_hi      INTEGER,
    open_turns_lo       INTEGER NOT NULL,
    open_turns_hi       INTEGER,
    side_work_lo        INTEGER NOT NULL,
    side_work_hi        INTEGER,
    over_limit_lo       INTEGER NOT NULL,
    over_limit_hi       INTEGER,
    histogram           BLOB NOT NULL,
    PRIMARY KEY (scope, joint)
) STRICT, WITHOUT ROWID;

-- Serials under which a joint is found, with the time each was in force.
CREATE TABLE serial (
    key                 TEXT NOT NULL,
    joint               INTEGER NOT NULL,
    serial              TEXT NOT NULL,
    since               INTEGER NOT NULL,
    until               INTEGER,                -- null: still
    entry               INTEGER NOT NULL,
    PRIMARY KEY (key, joint, since)
) STRICT, WITHOUT ROWID;
CREATE INDEX serial_joint ON serial (joint);

-- ------------------------------------------------------------------ runs
CREATE TABLE run (
    run                 INTEGER PRIMARY KEY,
    name                TEXT NOT NULL,
    well                TEXT NOT NULL,
    rig                 TEXT,
    string              TEXT,
    start               INTEGER NOT NULL,
    finish              INTEGER NOT NULL,
    grade               TEXT NOT NULL,
    environment         TEXT,
    sour                INTEGER NOT NULL,
    protectors          INTEGER NOT NULL,
    casing_depth        INTEGER,
    mud_weight          INTEGER,
    equipment           TEXT,
    equipment_doubtful  INTEGER NOT NULL,       -- some of it failed its next check
    survey              INTEGER,                -- survey in force; null: none, path unknown
    joints              INTEGER NOT NULL,
    unidentified        INTEGER NOT NULL,       -- drill pipe joints without a serial
    hours               INTEGER,
    revolutions         INTEGER,
    footage             INTEGER,
    top_depth           INTEGER,
    bottom_depth        INTEGER
) STRICT;
CREATE INDEX run_well ON run (well);
CREATE INDEX run_name ON run (name);

-- What a joint went through in a run. Clustered by joint and end of run.
CREATE TABLE joint_run (
    joint               INTEGER NOT NULL,
    finish              INTEGER NOT NULL,
    run                 INTEGER NOT NULL,
    start               INTEGER NOT NULL,
    place               INTEGER NOT NULL,       -- joints of the book below it in the tally, plus one
    from_bit            INTEGER NOT NULL,       -- bit to pin shoulder
    input_key           INTEGER NOT NULL,       -- what the figures were derived from
    hours               INTEGER,
    revolutions         INTEGER,
    footage             INTEGER,
    max_dogleg          INTEGER,
    max_tension         INTEGER,
    max_bending         INTEGER,
    damage_pin          INTEGER,
    damage_middle       INTEGER,
    damage_box          INTEGER,
    over_limit          INTEGER,
    cased_hours         INTEGER,
    open_turns          INTEGER,
    side_work           INTEGER,
    top_depth           INTEGER,
    bottom_depth        INTEGER,
    length              INTEGER NOT NULL,
    flags               INTEGER NOT NULL,
    conflict            INTEGER NOT NULL,
    broken              INTEGER NOT NULL,       -- a restriction that the joint carried was not kept
    histogram           BLOB NOT NULL,
    PRIMARY KEY (joint, finish, run)
) STRICT, WITHOUT ROWID;
CREATE INDEX joint_run_run ON joint_run (run, place);
CREATE INDEX joint_run_dogleg ON joint_run (max_dogleg, hours, joint);

-- The part of a run before an instant that falls inside it (an inspection during the run).
CREATE TABLE run_part (
    joint               INTEGER NOT NULL,
    run                 INTEGER NOT NULL,
    cut                 INTEGER NOT NULL,
    input_key           INTEGER NOT NULL,
    hours               INTEGER,
    revolutions         INTEGER,
    footage             INTEGER,
    max_dogleg          INTEGER,
    max_tension         INTEGER,
    max_bending         INTEGER,
    damage_pin          INTEGER,
    damage_middle       INTEGER,
    damage_box          INTEGER,
    over_limit          INTEGER,
    cased_hours         INTEGER,
    open_turns          INTEGER,
    side_work           INTEGER,
    -- maxima after the cut; sums after it are the whole less the part
    after_dogleg        INTEGER,
    after_tension       INTEGER,
    after_bending       INTEGER,
    histogram           BLOB NOT NULL,
    PRIMARY KEY (joint, run, cut)
) STRICT, WITHOUT ROWID;
CREATE INDEX run_part_run ON run_part (run);

-- Stretches of a joint's life about which nothing is known: before a used joint entered the book
-- (since is null), custody gaps.
CREATE TABLE gap (
    joint               INTEGER NOT NULL,
    until               INTEGER NOT NULL,
    since               INTEGER,
    entry               INTEGER NOT NULL,
    PRIMARY KEY (joint, until, entry)
) STRICT, WITHOUT ROWID;

-- Dimensions of a joint from an instant on.
CREATE TABLE dimension (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    wall                INTEGER,
    od                  INTEGER,
    length              INTEGER,
    tj_od               INTEGER,
    pin_removed         INTEGER NOT NULL,       -- metal gone from the pin end since entry
    PRIMARY KEY (joint, at)
) STRICT, WITHOUT ROWID;

-- ------------------------------------------------------------------ records of a joint
-- Every record: joint, instant, entry, and a number within the entry. `ord` breaks ties on one day.
CREATE TABLE inspection (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    covers              INTEGER NOT NULL,       -- set of scopes, one bit each
    methods             INTEGER NOT NULL,       -- set of methods, one bit each
    standard            TEXT,
    firm                TEXT,
    inspector           TEXT,
    report              TEXT,
    instrument          TEXT,
    doubtful            INTEGER NOT NULL,       -- an instrument of it failed its next check
    class_before        TEXT,
    class               TEXT,
    tube_class          TEXT,
    pin_class           TEXT,
    box_class           TEXT,
    criterion           TEXT,
    disposition         TEXT,
    declared            TEXT,
    not_measured        TEXT,
    limits              TEXT,                   -- set of limits that judged it
    wall                INTEGER,
    wall_thickness      INTEGER,
    body_od             INTEGER,
    body_od_max         INTEGER,
    slip_od             INTEGER,
    pin_od              INTEGER,
    pin_id              INTEGER,
    pin_shoulder        INTEGER,
    pin_stretch         INTEGER,
    pin_neck            INTEGER,
    pin_tong            INTEGER,
    pin_bevel           INTEGER,
    pin_benchmark       INTEGER,
    box_od              INTEGER,
    box_shoulder        INTEGER,
    box_counterbore     INTEGER,
    box_counterbore_depth INTEGER,
    box_tong            INTEGER,
    box_bevel           INTEGER,
    box_benchmark       INTEGER,
    hardband_height     INTEGER,
    centre_upset        INTEGER,
    bow                 INTEGER,
    findings            INTEGER NOT NULL,
    paint               TEXT,
    PRIMARY KEY (joint, at, entry)
) STRICT, WITHOUT ROWID;

CREATE TABLE finding (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    n                   INTEGER NOT NULL,
    what                TEXT NOT NULL,
    place               TEXT,
    end                 TEXT,
    generation          INTEGER,
    size                INTEGER,
    share               INTEGER,
    transverse          INTEGER,
    from_pin            INTEGER,
    disposition         TEXT,
    open                INTEGER NOT NULL,
    cleared_by          INTEGER,
    PRIMARY KEY (joint, at, entry, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE repair (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    work                TEXT NOT NULL,
    end                 TEXT,
    shop                TEXT,
    ticket              TEXT,
    removed             INTEGER,
    length_after        INTEGER,
    generation          INTEGER,
    PRIMARY KEY (joint, at, entry)
) STRICT, WITHOUT ROWID;

CREATE TABLE makeup (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    end                 TEXT NOT NULL,
    generation          INTEGER NOT NULL,
    times               INTEGER NOT NULL,
    torque              INTEGER,
    target              INTEGER,
    stated_target       INTEGER,
    breakout            INTEGER,
    verdict             TEXT NOT NULL,          -- under, over, on_target, unknown
    instrument          TEXT,
    doubtful            INTEGER NOT NULL,
    compound            TEXT,
    friction_factor     INTEGER,
    mate                INTEGER,
    mate_name           TEXT,
    run                 INTEGER,
    PRIMARY KEY (joint, at, entry, end)
) STRICT, WITHOUT ROWID;
CREATE INDEX makeup_instrument ON makeup (instrument) WHERE instrument IS NOT NULL;

CREATE TABLE event (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    what                TEXT NOT NULL,
    run                 INTEGER,
    pull                INTEGER,
    torque              INTEGER,
    count               INTEGER,
    depth               INTEGER,
    PRIMARY KEY (joint, at, entry)
) STRICT, WITHOUT ROWID;

CREATE TABLE failure (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    what                TEXT NOT NULL,
    place               TEXT,
    end                 TEXT,
    from_pin            INTEGER,
    run                 INTEGER,
    well                TEXT,
    depth               INTEGER,
    torque              INTEGER,
    pull                INTEGER,
    operation           TEXT,
    PRIMARY KEY (joint, at, entry)
) STRICT, WITHOUT ROWID;

CREATE TABLE move (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    location            TEXT,
    string              TEXT,
    status              TEXT,
    PRIMARY KEY (joint, at, entry)
) STRICT, WITHOUT ROWID;

CREATE TABLE hire (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    name                TEXT NOT NULL,
    party               TEXT NOT NULL,
    contract            TEXT,
    back                INTEGER,                -- null: still out
    back_entry          INTEGER,
    PRIMARY KEY (joint, at, entry)
) STRICT, WITHOUT ROWID;
CREATE INDEX hire_name ON hire (name);

CREATE TABLE decision (
    joint               INTEGER NOT NULL,
    at                  INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    ruling              TEXT NOT NULL,
    class               TEXT,
    end                 TEXT,
    until               INTEGER,
    authority           TEXT,
    reason              TEXT NOT NULL,
    PRIMARY KEY (joint, at, entry)
) STRICT, WITHOUT ROWID;

-- ------------------------------------------------------------------ links and bookkeeping
-- Entries that name a joint (runs apart, which joint_run links).
CREATE TABLE touch (
    joint               INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    cut                 INTEGER,                -- instant at which it divides the joint's runs
    PRIMARY KEY (joint, entry)
) STRICT, WITHOUT ROWID;
CREATE INDEX touch_entry ON touch (entry);
CREATE INDEX touch_cut ON touch (joint, cut) WHERE cut IS NOT NULL;

-- Entries that count no more, and by which entry.
CREATE TABLE struck (
    entry               INTEGER PRIMARY KEY,
    by_entry            INTEGER NOT NULL,
    why                 TEXT NOT NULL           -- struck, or set aside by a settlement
) STRICT;

-- Surveys that count, by well.
CREATE TABLE survey (
    entry               INTEGER PRIMARY KEY,
    well                TEXT NOT NULL,
    at                  INTEGER NOT NULL,
    stations            INTEGER NOT NULL
) STRICT;
CREATE INDEX survey_well ON survey (well, at);

-- What folds read of the whole book, by topic: checks and uses of instruments by tag, adoptions by
-- what they adopt, entries about a run, entries that wait for one that has not arrived.
CREATE TABLE book_fact (
    topic               TEXT NOT NULL,
    subject             TEXT NOT NULL,
    entry               INTEGER NOT NULL,
    PRIMARY KEY (topic, subject, entry)
) STRICT, WITHOUT ROWID;

-- Facts that exclude each other and wait for a decision.
CREATE TABLE conflict (
    joint               INTEGER NOT NULL,
    first_entry         INTEGER NOT NULL,
    second_entry        INTEGER NOT NULL,
    what                TEXT NOT NULL,
    PRIMARY KEY (joint, first_entry, second_entry)
) STRICT, WITHOUT ROWID;

-- Files taken in, so that the same file twice adds nothing.
CREATE TABLE file_taken (
    sha256              TEXT NOT NULL,
    first_entry         INTEGER NOT NULL,
    last_entry          INTEGER NOT NULL,
    file                TEXT NOT NULL,
    PRIMARY KEY (sha256, first_entry)
) STRICT, WITHOUT ROWID;

-- Content of entries taken from files, so that a fact that two files state is taken once.
CREATE TABLE content (
    digest              INTEGER NOT NULL,
    entry               INTEGER NOT NULL,
    PRIMARY KEY (digest, entry)
) STRICT, WITHOUT ROWID;
