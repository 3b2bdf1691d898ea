-- Counts per stratum: for each span of hatch days a row per species and, where $each_pen, a row per
-- pen, in each family.
--
-- Unknown eggs are shared over the stages within a span: by the tray's own opened eggs, where those are
-- $enough or more; else by those of its batch and pen; else by those of its pen in the span. The family
-- 'all' holds every closed tray, from which the trays left out are counted.

WITH spans AS (
    SELECT unnest($span_no::INTEGER[]) AS span_no,
        unnest($first_day::DATE[]) AS first_day,
        unnest($last_day::DATE[]) AS last_day,
        unnest($each_pen::BOOLEAN[]) AS each_pen
),
family_trays AS (
    SELECT s.span_no, s.each_pen, f.family, c.*,
        CASE WHEN c.opened >= $enough THEN CAST(c.unknown AS DOUBLE) / c.opened ELSE 0 END AS own,
        CASE WHEN c.opened >= $enough THEN 0 ELSE c.unknown END AS borrows
    FROM chosen c
    JOIN spans s ON c.closed AND c.hatch_on BETWEEN s.first_day AND s.last_day
    JOIN (VALUES ('all'), ('hatch'), ('fertile'), ('staged'), ('culled'), ('rotten')) AS f (family)
        ON CASE f.family WHEN 'all' THEN TRUE WHEN 'hatch' THEN c.in_hatch WHEN 'fertile' THEN c.in_fertile
            WHEN 'staged' THEN c.in_staged WHEN 'culled' THEN c.in_culled ELSE c.in_rotten END
),
-- a cell is one pen's trays in one batch
cells AS (
    SELECT span_no, each_pen, family, species, pen_no, batch_no, min(pen) AS pen,
        count(*) AS trays, sum(eggs_set) AS eggs_set, sum(cracked) AS cracked, sum(followed) AS followed,
        sum(hatched) AS hatched, sum(culled) AS culled, sum(rotten) AS rotten,
        sum(unaccounted) AS unaccounted, sum(unknown) AS unknown,
        sum(infertile) AS infertile, sum(clear) AS clear, sum(early) AS early, sum(mid) AS mid,
        sum(late) AS late, sum(shell) AS shell, sum(unstaged) AS unstaged, sum(opened) AS opened,
        sum(own * infertile) AS own_infertile, sum(own * clear) AS own_clear, sum(own * early) AS own_early,
        sum(own * mid) AS own_mid, sum(own * late) AS own_late, sum(own * shell) AS own_shell,
        sum(own * unstaged) AS own_unstaged,
        sum(borrows) AS borrows,
        sum(opened * (1 + own)) AS stands_for, sum(opened * (1 + own) * (1 + own)) AS stands_for_squares,
        sum(CAST(followed AS DOUBLE) * followed) AS tray_squares
    FROM family_trays
    GROUP BY span_no, each_pen, family, species, pen_no, batch_no
),
cell_weights AS (
    SELECT *,
        CASE WHEN opened >= $enough THEN CAST(borrows AS DOUBLE) / opened ELSE 0 END AS of_cell,
        CASE WHEN opened >= $enough THEN 0 ELSE borrows END AS still
    FROM cells
),
pen_sums AS (
    SELECT span_no, family, pen_no, sum(still) AS still,
        sum(infertile) AS infertile, sum(clear) AS clear, sum(early) AS early, sum(mid) AS mid,
        sum(late) AS late, sum(shell) AS shell, sum(unstaged) AS unstaged, sum(opened) AS opened
    FROM cell_weights
    GROUP BY span_no, family, pen_no
),
shared_cells AS (
    SELECT c.*,
        c.own_infertile + c.of_cell * c.infertile + c.still * p.infertile / d.divisor AS shared_infertile,
        c.own_clear + c.of_cell * c.clear + c.still * p.clear / d.divisor AS shared_clear,
        c.own_early + c.of_cell * c.early + c.still * p.early / d.divisor AS shared_early,
        c.own_mid + c.of_cell * c.mid + c.still * p.mid / d.divisor AS shared_mid,
        c.own_late + c.of_cell * c.late + c.still * p.late / d.divisor AS shared_late,
        c.own_shell + c.of_cell * c.shell + c.still * p.shell / d.divisor AS shared_shell,
        c.own_unstaged + c.of_cell * c.unstaged + c.still * p.unstaged / d.divisor AS shared_unstaged,
        CASE WHEN p.opened = 0 THEN c.still ELSE 0 END AS unshared,
        c.stands_for_squares + 2 * (c.of_cell + p.still / d.divisor) * c.stands_for
            + (c.of_cell + p.still / d.divisor) * (c.of_cell + p.still / d.divisor) * c.opened AS opened_squares
    FROM cell_weights c
    JOIN pen_sums p ON p.span_no = c.span_no AND p.family = c.family AND p.pen_no = c.pen_no
    -- where nothing of the pen was opened, all the sums divided are 0
    CROSS JOIN LATERAL (SELECT CAST(greatest(p.opened, 1) AS DOUBLE) AS divisor) d
),
by_batch AS (
    SELECT span_no, family, species, level, CASE level WHEN 'pen' THEN pen_no ELSE -1 END AS pen_no,
        CASE level WHEN 'pen' THEN min(pen) ELSE '' END AS pen,
        sum(trays) AS trays, sum(eggs_set) AS eggs_set, sum(cracked) AS cracked, sum(followed) AS followed,
        sum(hatched) AS hatched, sum(culled) AS culled, sum(rotten) AS rotten,
        sum(unaccounted) AS unaccounted, sum(unknown) AS unknown,
        sum(infertile) AS infertile, sum(clear) AS clear, sum(early) AS early, sum(mid) AS mid,
        sum(late) AS late, sum(shell) AS shell, sum(unstaged) AS unstaged,
        sum(shared_infertile) AS shared_infertile, sum(shared_clear) AS shared_clear,
        sum(shared_early) AS shared_early, sum(shared_mid) AS shared_mid, sum(shared_late) AS shared_late,
        sum(shared_shell) AS shared_shell, sum(shared_unstaged) AS shared_unstaged,
        sum(unshared) AS unshared, sum(opened_squares) AS opened_squares, sum(tray_squares) AS tray_squares
    FROM shared_cells
    JOIN (VALUES ('species'), ('pen')) AS l (level) ON l.level = 'species' OR each_pen
    GROUP BY span_no, family, species, level, CASE level WHEN 'pen' THEN pen_no ELSE -1 END, batch_no
)
SELECT span_no, species, min(pen) AS pen, family,
    CAST(sum(trays) AS BIGINT) AS trays, count(*) AS batches,
    CAST(sum(eggs_set) AS BIGINT) AS eggs_set, CAST(sum(cracked) AS BIGINT) AS cracked,
    CAST(sum(hatched) AS BIGINT) AS hatched, CAST(sum(culled) AS BIGINT) AS culled,
    CAST(sum(infertile) AS BIGINT) AS infertile, CAST(sum(clear) AS BIGINT) AS clear,
    CAST(sum(early) AS BIGINT) AS early, CAST(sum(mid) AS BIGINT) AS mid, CAST(sum(late) AS BIGINT) AS late,
    CAST(sum(shell) AS BIGINT) AS shell, CAST(sum(unstaged) AS BIGINT) AS unstaged,
    CAST(sum(unknown) AS BIGINT) AS unknown,
    sum(shared_infertile) AS shared_infertile, sum(shared_clear) AS shared_clear,
    sum(shared_early) AS shared_early, sum(shared_mid) AS shared_mid, sum(shared_late) AS shared_late,
    sum(shared_shell) AS shared_shell, sum(shared_unstaged) AS shared_unstaged,
    CAST(sum(unshared) AS DOUBLE) AS unshared, sum(opened_squares) AS opened_squares,
    sum(tray_squares) AS tray_squares, sum(CAST(followed AS DOUBLE) * followed) AS batch_squares,
    CAST(sum(rotten) AS BIGINT) AS rotten, CAST(sum(unaccounted) AS BIGINT) AS unaccounted
FROM by_batch
GROUP BY span_no, level, species, pen_no, family
ORDER BY span_no, level DESC, species, pen, family
