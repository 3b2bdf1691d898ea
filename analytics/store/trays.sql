-- Every live tray of a live batch and a live pen, once, with what the questions need: when its batch
-- hatched, whether it is still in the machine, how long its eggs lay, how old the hens were, its outcomes
-- as they are known, and the families of measures that it enters (analytics/measures/counts.py has them).
--
-- Labels are compared without case and outer blanks (label_of): the *_key columns. batch_no and pen_no are
-- quicker names of the same, good as long as the connection.
-- $species, $shortest_days, $longest_days: three lists of one length.

CREATE OR REPLACE TEMP TABLE trays_of AS
WITH species_days AS (
    SELECT unnest($species::VARCHAR[]) AS species,
        unnest($shortest_days::DOUBLE[]) AS shortest_days,
        unnest($longest_days::DOUBLE[]) AS longest_days
),
live_trays AS (
    SELECT t.*,
        label_of(t.batch) AS batch_key,
        label_of(t.tray) AS tray_key,
        label_of(t.pen) AS pen_key,
        coalesce(t.infertile, t.clear, t.early_dead, t.mid_dead, t.late_dead, t.internal_pip,
            t.external_pip, t.rotten, t.not_opened) IS NULL AS unhatched_blank
    FROM trays t
    WHERE t.withdrawn_in IS NULL
),
-- A cracked egg among the opened ones leaves the ladder like one that the tray counts.
cracked_by_tray AS (
    SELECT t.batch_key, t.tray_key, count(*) AS cracked
    FROM live_trays t
    JOIN opened_eggs o ON label_of(o.batch) = t.batch_key AND label_of(o.tray) = t.tray_key
    WHERE t.unhatched_blank AND t.cracked IS NULL AND o.withdrawn_in IS NULL AND o."class" = 'cracked'
    GROUP BY t.batch_key, t.tray_key
),
-- Opened eggs stand in only for a tray that has no count of its own of what did not hatch. Each egg was
-- classed, so a class that none fell into is a counted 0.
opened_by_tray AS (
    SELECT t.batch_key, t.tray_key,
        count(*) AS opened,
        count(*) FILTER (WHERE o."class" = 'infertile') AS infertile,
        count(*) FILTER (WHERE o."class" = 'clear') AS clear,
        count(*) FILTER (WHERE o."class" = 'early_dead') AS early_dead,
        count(*) FILTER (WHERE o."class" = 'mid_dead') AS mid_dead,
        count(*) FILTER (WHERE o."class" = 'late_dead') AS late_dead,
        count(*) FILTER (WHERE o."class" = 'internal_pip') AS internal_pip,
        count(*) FILTER (WHERE o."class" = 'external_pip') AS external_pip,
        count(*) FILTER (WHERE o."class" = 'rotten') AS rotten,
        count(*) FILTER (WHERE o."class" = 'not_opened') AS not_opened
    FROM live_trays t
    JOIN opened_eggs o ON label_of(o.batch) = t.batch_key AND label_of(o.tray) = t.tray_key
    WHERE t.unhatched_blank AND o.withdrawn_in IS NULL
        AND o."class" NOT IN ('hatched', 'culled', 'cracked')
    GROUP BY t.batch_key, t.tray_key
),
as_written AS (
    SELECT t.batch_key, t.tray_key, t.pen_key, t.tray, t.sire, t.dam, t.eggs_set,
        t.laid_from, t.laid_to, t.storage_days AS storage_written, t.hatched, t.culled,
        coalesce(t.cracked, k.cracked) AS cracked,
        o.opened IS NOT NULL AS from_opened_eggs,
        coalesce(t.infertile, o.infertile) AS infertile,
        coalesce(t.clear, o.clear) AS clear,
        coalesce(t.early_dead, o.early_dead) AS early_dead,
        coalesce(t.mid_dead, o.mid_dead) AS mid_dead,
        coalesce(t.late_dead, o.late_dead) AS late_dead,
        coalesce(t.internal_pip, o.internal_pip) AS internal_pip,
        coalesce(t.external_pip, o.external_pip) AS external_pip,
        coalesce(t.rotten, o.rotten) AS rotten,
        coalesce(t.not_opened, o.not_opened) AS not_opened
    FROM live_trays t
    LEFT JOIN cracked_by_tray k ON k.batch_key = t.batch_key AND k.tray_key = t.tray_key
        AND k.cracked + coalesce(t.hatched, 0) + coalesce(t.culled, 0) <= t.eggs_set
    LEFT JOIN opened_by_tray o ON o.batch_key = t.batch_key AND o.tray_key = t.tray_key
        AND o.opened + coalesce(t.hatched, 0) + coalesce(t.culled, 0) + coalesce(t.cracked, k.cracked, 0)
            <= t.eggs_set
),
added_up AS (
    SELECT *,
        coalesce(hatched, 0) + coalesce(culled, 0) + coalesce(infertile, 0) + coalesce(clear, 0)
            + coalesce(early_dead, 0) + coalesce(mid_dead, 0) + coalesce(late_dead, 0)
            + coalesce(internal_pip, 0) + coalesce(external_pip, 0) + coalesce(rotten, 0)
            + coalesce(cracked, 0) + coalesce(not_opened, 0) AS accounted,
        coalesce(early_dead, mid_dead, late_dead, internal_pip, external_pip) IS NOT NULL AS deaths_counted,
        coalesce(infertile, clear) IS NOT NULL AS fertility_counted
    FROM as_written
),
judged AS (
    SELECT *,
        accounted = eggs_set AS adds_up,
        hatched IS NOT NULL OR accounted = eggs_set AS in_hatch,
        CASE WHEN fertility_counted AND NOT deaths_counted THEN eggs_set - accounted ELSE 0 END AS unstaged
    FROM added_up
),
with_pen AS (
    SELECT j.*, p.rowid AS pen_no, p.pen, label_of(p.species) AS species, p.hens_hatched_on,
        d.shortest_days, d.longest_days
    FROM judged j
    JOIN pens p ON label_of(p.pen) = j.pen_key AND p.withdrawn_in IS NULL
    LEFT JOIN species_days d ON d.species = label_of(p.species)
),
batch_state AS (
    SELECT batch_key, bool_and(in_hatch) AS all_hatched,
        min(shortest_days) AS shortest_days, max(longest_days) AS longest_days
    FROM with_pen
    GROUP BY batch_key
),
with_batch AS (
    SELECT w.*, b.rowid AS batch_no, b.batch, b.incubator, b.hatcher,
        label_of(b.incubator) AS incubator_key,
        label_of(coalesce(b.hatcher, b.incubator)) AS hatcher_key,
        b.set_on, b.pulled_on,
        b.pulled_on IS NOT NULL OR s.all_hatched AS closed,
        CAST(b.set_on + to_hours(CAST(round(s.shortest_days * 24) AS BIGINT)) AS DATE) AS due_from,
        CAST(b.set_on + to_hours(CAST(round(s.longest_days * 24) AS BIGINT)) AS DATE) AS due_to,
        CAST(b.set_on AS DATE) AS set_day,
        -- the middle of the laying days, counted from the first
        coalesce(w.laid_from, w.laid_to) AS laid_first,
        coalesce(w.laid_to, w.laid_from) AS laid_last
    FROM with_pen w
    JOIN batches b ON label_of(b.batch) = w.batch_key AND b.withdrawn_in IS NULL
    JOIN batch_state s ON s.batch_key = w.batch_key
),
with_days AS (
    SELECT *,
        coalesce(CAST(pulled_on AS DATE), due_to) AS hatch_on,
        coalesce(storage_written,
            (date_diff('day', laid_first, set_day) + date_diff('day', laid_last, set_day)) / 2.0) AS storage_days
    FROM with_batch
)
SELECT batch_no, pen_no, batch_key, tray_key, pen_key, incubator_key, hatcher_key,
    batch, tray, pen, sire, dam, incubator, coalesce(hatcher, incubator) AS hatcher, species,
    laid_first, laid_last,
    set_day, CAST(pulled_on AS DATE) AS pulled_day, closed, due_from, due_to, hatch_on,
    storage_days,
    -- age at laying: the middle of the laying days, else the day of setting less the days of storage
    coalesce((date_diff('day', hens_hatched_on, laid_first) + date_diff('day', hens_hatched_on, laid_last)) / 2.0,
        date_diff('day', hens_hatched_on, set_day) - storage_days) / 7.0 AS hen_weeks,
    from_opened_eggs, eggs_set,
    coalesce(hatched, 0) AS hatched, coalesce(culled, 0) AS culled, coalesce(cracked, 0) AS cracked,
    coalesce(infertile, 0) AS infertile, coalesce(clear, 0) AS clear,
    coalesce(early_dead, 0) AS early, coalesce(mid_dead, 0) AS mid, coalesce(late_dead, 0) AS late,
    coalesce(internal_pip, 0) + coalesce(external_pip, 0) AS shell, unstaged,
    coalesce(rotten, 0) AS rotten, coalesce(not_opened, 0) AS not_opened,
    eggs_set - accounted - unstaged AS unaccounted,
    coalesce(rotten, 0) + coalesce(not_opened, 0) + eggs_set - accounted - unstaged AS unknown,
    coalesce(infertile, 0) + coalesce(clear, 0) + coalesce(early_dead, 0) + coalesce(mid_dead, 0)
        + coalesce(late_dead, 0) + coalesce(internal_pip, 0) + coalesce(external_pip, 0) + unstaged AS opened,
    eggs_set - coalesce(cracked, 0) AS followed,
    in_hatch,
    in_hatch AND (adds_up OR fertility_counted) AS in_fertile,
    in_hatch AND (adds_up OR fertility_counted) AND (adds_up OR deaths_counted) AS in_staged,
    in_hatch AND (adds_up OR culled IS NOT NULL) AS in_culled,
    in_hatch AND (adds_up OR rotten IS NOT NULL) AS in_rotten
FROM with_days
