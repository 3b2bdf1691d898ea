-- The chosen trays of closed batches that enter one family, one row each, with what the tests need.
--
-- Unknown eggs are shared over the stages as in strata.sql: by the tray's own opened eggs, else by those of
-- its batch and pen, else by those of its pen; where a pen has none, by those of all chosen pens of its species.
-- A tray whose unknown eggs nothing tells is in the answer with `told` false.
-- Males per female on the middle day of laying: birds recorded in the pen on that day, else the pen's own row.

WITH family_trays AS (
    SELECT c.*, c.set_day - CAST(round(coalesce(c.storage_days, 0)) AS INTEGER) AS laid_on
    FROM chosen c
    WHERE c.closed AND CASE $family WHEN 'hatch' THEN c.in_hatch WHEN 'fertile' THEN c.in_fertile
        WHEN 'staged' THEN c.in_staged WHEN 'culled' THEN c.in_culled ELSE c.in_rotten END
),
cell_opened AS (
    SELECT pen_no, batch_no, sum(opened) AS opened, sum(infertile) AS infertile, sum(clear) AS clear,
        sum(early + unstaged) AS early, sum(mid) AS mid, sum(late) AS late, sum(shell) AS shell
    FROM family_trays
    GROUP BY pen_no, batch_no
),
pen_opened AS (
    SELECT c.pen_no, min(f.species) AS species, sum(c.opened) AS opened, sum(c.infertile) AS infertile,
        sum(c.clear) AS clear, sum(c.early) AS early, sum(c.mid) AS mid, sum(c.late) AS late,
        sum(c.shell) AS shell
    FROM cell_opened c
    JOIN (SELECT pen_no, min(species) AS species FROM family_trays GROUP BY pen_no) f ON f.pen_no = c.pen_no
    GROUP BY c.pen_no
),
species_opened AS (
    SELECT species, sum(opened) AS opened, sum(infertile) AS infertile, sum(clear) AS clear,
        sum(early) AS early, sum(mid) AS mid, sum(late) AS late, sum(shell) AS shell
    FROM pen_opened
    GROUP BY species
),
tellers AS (
    SELECT t.batch_key, t.tray_key, t.pen_no, t.batch_no, t.species,
        CASE WHEN t.opened >= $enough THEN 'tray' WHEN c.opened >= $enough THEN 'cell'
            WHEN p.opened > 0 THEN 'pen' ELSE 'species' END AS told_by
    FROM family_trays t
    JOIN cell_opened c ON c.pen_no = t.pen_no AND c.batch_no = t.batch_no
    JOIN pen_opened p ON p.pen_no = t.pen_no
),
shares AS (
    SELECT t.batch_key, t.tray_key,
        CASE w.told_by WHEN 'tray' THEN t.opened WHEN 'cell' THEN c.opened WHEN 'pen' THEN p.opened
            ELSE s.opened END AS opened,
        CASE w.told_by WHEN 'tray' THEN t.infertile WHEN 'cell' THEN c.infertile WHEN 'pen' THEN p.infertile
            ELSE s.infertile END AS infertile,
        CASE w.told_by WHEN 'tray' THEN t.clear WHEN 'cell' THEN c.clear WHEN 'pen' THEN p.clear
            ELSE s.clear END AS clear,
        CASE w.told_by WHEN 'tray' THEN t.early + t.unstaged WHEN 'cell' THEN c.early WHEN 'pen' THEN p.early
            ELSE s.early END AS early,
        CASE w.told_by WHEN 'tray' THEN t.mid WHEN 'cell' THEN c.mid WHEN 'pen' THEN p.mid
            ELSE s.mid END AS mid,
        CASE w.told_by WHEN 'tray' THEN t.late WHEN 'cell' THEN c.late WHEN 'pen' THEN p.late
            ELSE s.late END AS late,
        CASE w.told_by WHEN 'tray' THEN t.shell WHEN 'cell' THEN c.shell WHEN 'pen' THEN p.shell
            ELSE s.shell END AS shell
    FROM family_trays t
    JOIN tellers w ON w.batch_key = t.batch_key AND w.tray_key = t.tray_key
    JOIN cell_opened c ON c.pen_no = t.pen_no AND c.batch_no = t.batch_no
    JOIN pen_opened p ON p.pen_no = t.pen_no
    JOIN species_opened s ON s.species = t.species
),
-- one spelling of a machine, however batches write it
machines AS (
    SELECT machine_key, min(label) AS label
    FROM (SELECT incubator_key AS machine_key, incubator AS label FROM family_trays
        UNION ALL SELECT hatcher_key, hatcher FROM family_trays) AS named
    GROUP BY machine_key
),
stays AS (
    SELECT label_of(s.pen) AS pen_key, s."from" AS first_day, coalesce(s."to", DATE '9999-12-31') AS last_day,
        b.sex
    FROM pen_birds s
    JOIN birds b ON label_of(b.bird) = label_of(s.bird) AND b.withdrawn_in IS NULL
    WHERE s.withdrawn_in IS NULL
),
laying_days AS (SELECT DISTINCT pen_key, laid_on FROM family_trays),
birds_present AS (
    SELECT d.pen_key, d.laid_on,
        count(*) FILTER (WHERE s.sex = 'm') AS males, count(*) FILTER (WHERE s.sex = 'f') AS females
    FROM laying_days d
    JOIN stays s ON s.pen_key = d.pen_key AND d.laid_on BETWEEN s.first_day AND s.last_day
    GROUP BY d.pen_key, d.laid_on
)
SELECT t.batch_key, t.tray_key, t.pen, t.batch, t.species,
    m.label AS setter, h.label AS hatcher,
    t.hatch_on, t.storage_days, t.hen_weeks,
    CASE WHEN b.males > 0 AND b.females > 0 THEN CAST(b.males AS DOUBLE) / b.females
        WHEN p.males IS NOT NULL AND p.females > 0 THEN CAST(p.males AS DOUBLE) / p.females END
        AS males_per_female,
    CAST(t.eggs_set AS DOUBLE) AS eggs_set, CAST(t.followed AS DOUBLE) AS followed,
    CAST(t.hatched AS DOUBLE) AS hatched, CAST(t.culled AS DOUBLE) AS culled,
    CAST(t.rotten AS DOUBLE) AS rotten,
    t.unknown = 0 OR s.opened > 0 AS told,
    t.infertile + t.unknown * s.infertile / greatest(s.opened, 1.0) AS infertile,
    t.clear + t.unknown * s.clear / greatest(s.opened, 1.0) AS clear,
    t.early + t.unstaged + t.unknown * s.early / greatest(s.opened, 1.0) AS early,
    t.mid + t.unknown * s.mid / greatest(s.opened, 1.0) AS mid,
    t.late + t.unknown * s.late / greatest(s.opened, 1.0) AS late,
    t.shell + t.unknown * s.shell / greatest(s.opened, 1.0) AS shell
FROM family_trays t
JOIN shares s ON s.batch_key = t.batch_key AND s.tray_key = t.tray_key
JOIN machines m ON m.machine_key = t.incubator_key
JOIN machines h ON h.machine_key = t.hatcher_key
JOIN pens p ON label_of(p.pen) = t.pen_key AND p.withdrawn_in IS NULL
LEFT JOIN birds_present b ON b.pen_key = t.pen_key AND b.laid_on = t.laid_on
ORDER BY t.batch_key, t.tray_key
