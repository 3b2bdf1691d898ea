-- Counts per stratum: for each span of hatch days a row per species and, where $each_pen, a row per
-- pen, in each family.
--
-- Unknown eggs are shared over the stages within a span: by the tray's own opened eggs, where those are
-- $enough or more; else by those of its batch and pen; else by those of its pen in the span. The family
-- 'all' holds every closed tray, from which the trays left out are counted.
--
-- Trays are summed once, by pen and by which families they enter; families are told apart in those few sums.
-- Only batches in which a tray borrows are looked at one by one.

WITH spans AS (
    SELECT unnest($span_no::INTEGER[]) AS span_no,
        unnest($first_day::DATE[]) AS first_day,
        unnest($last_day::DATE[]) AS last_day,
        unnest($each_pen::BOOLEAN[]) AS each_pen
),
families AS (
    SELECT * FROM (VALUES ('all'), ('hatch'), ('fertile'), ('staged'), ('culled'), ('rotten')) AS f (family)
),
span_trays AS (
    SELECT s.span_no, s.each_pen, c.species, c.pen_no, c.batch_no, c.pen,
        c.in_hatch, c.in_fertile, c.in_staged, c.in_culled, c.in_rotten,
        c.eggs_set, c.cracked, c.followed, c.hatched, c.culled, c.rotten, c.unaccounted, c.unknown,
        c.infertile, c.clear, c.early, c.mid, c.late, c.shell, c.unstaged, c.opened,
        CASE WHEN c.opened >= $enough THEN CAST(c.unknown AS DOUBLE) / c.opened ELSE 0 END AS own,
        CASE WHEN c.opened >= $enough THEN 0 ELSE c.unknown END AS borrows
    FROM chosen c
    JOIN spans s ON c.closed AND c.hatch_on BETWEEN s.first_day AND s.last_day
),
kinds AS (
    SELECT span_no, each_pen, species, pen_no, in_hatch, in_fertile, in_staged, in_culled, in_rotten,
        min(pen) AS pen,
        count(*) AS trays, sum(eggs_set) AS eggs_set, sum(cracked) AS cracked,
        sum(hatched) AS hatched, sum(culled) AS culled, sum(rotten) AS rotten,
        sum(unaccounted) AS unaccounted, sum(unknown) AS unknown,
        sum(infertile) AS infertile, sum(clear) AS clear, sum(early) AS early, sum(mid) AS mid,
        sum(late) AS late, sum(shell) AS shell, sum(unstaged) AS unstaged, sum(opened) AS opened,
        sum(own * infertile) AS own_infertile, sum(own * clear) AS own_clear, sum(own * early) AS own_early,
        sum(own * mid) AS own_mid, sum(own * late) AS own_late, sum(own * shell) AS own_shell,
        sum(own * unstaged) AS own_unstaged,
        sum(opened * (1 + own)) AS stands_for, sum(opened * (1 + own) * (1 + own)) AS stands_for_squares,
        sum(CAST(followed AS DOUBLE) * followed) AS tray_squares
    FROM span_trays
    GROUP BY span_no, each_pen, species, pen_no, in_hatch, in_fertile, in_staged, in_culled, in_rotten
),
pens_summed AS (
    SELECT k.span_no, k.each_pen, f.family, k.species, k.pen_no, min(k.pen) AS pen,
        sum(trays) AS trays, sum(eggs_set) AS eggs_set, sum(cracked) AS cracked,
        sum(hatched) AS hatched, sum(culled) AS culled, sum(rotten) AS rotten,
        sum(unaccounted) AS unaccounted, sum(unknown) AS unknown,
        sum(infertile) AS infertile, sum(clear) AS clear, sum(early) AS early, sum(mid) AS mid,
        sum(late) AS late, sum(shell) AS shell, sum(unstaged) AS unstaged, sum(opened) AS opened,
        sum(own_infertile) AS own_infertile, sum(own_clear) AS own_clear, sum(own_early) AS own_early,
        sum(own_mid) AS own_mid, sum(own_late) AS own_late, sum(own_shell) AS own_shell,
        sum(own_unstaged) AS own_unstaged,
        sum(stands_for) AS stands_for, sum(stands_for_squares) AS stands_for_squares,
        sum(tray_squares) AS tray_squares
    FROM kinds k
    JOIN families f ON CASE f.family WHEN 'all' THEN TRUE WHEN 'hatch' THEN k.in_hatch
        WHEN 'fertile' THEN k.in_fertile WHEN 'staged' THEN k.in_staged WHEN 'culled' THEN k.in_culled
        ELSE k.in_rotten END
    GROUP BY k.span_no, k.each_pen, f.family, k.species, k.pen_no
),
-- a cell is one pen's trays in one batch; only those matter here in which a tray borrows
borrowing AS (SELECT DISTINCT span_no, pen_no, batch_no FROM span_trays WHERE borrows > 0),
cells AS (
    SELECT t.span_no, f.family, t.pen_no, t.batch_no, sum(t.borrows) AS borrows,
        sum(t.infertile) AS infertile, sum(t.clear) AS clear, sum(t.early) AS early, sum(t.mid) AS mid,
        sum(t.late) AS late, sum(t.shell) AS shell, sum(t.unstaged) AS unstaged, sum(t.opened) AS opened,
        sum(t.opened * (1 + t.own)) AS stands_for
    FROM span_trays t
    JOIN borrowing b ON b.span_no = t.span_no AND b.pen_no = t.pen_no AND b.batch_no = t.batch_no
    JOIN families f ON CASE f.family WHEN 'all' THEN TRUE WHEN 'hatch' THEN t.in_hatch
        WHEN 'fertile' THEN t.in_fertile WHEN 'staged' THEN t.in_staged WHEN 'culled' THEN t.in_culled
        ELSE t.in_rotten END
    GROUP BY t.span_no, f.family, t.pen_no, t.batch_no
),
cell_weights AS (
    SELECT *,
        CASE WHEN opened >= $enough THEN CAST(borrows AS DOUBLE) / opened ELSE 0 END AS of_cell,
        CASE WHEN opened >= $enough THEN 0 ELSE borrows END AS still
    FROM cells
),
lent AS (
    SELECT span_no, family, pen_no, sum(still) AS still,
        sum(of_cell * infertile) AS infertile, sum(of_cell * clear) AS clear, sum(of_cell * early) AS early,
        sum(of_cell * mid) AS mid, sum(of_cell * late) AS late, sum(of_cell * shell) AS shell,
        sum(of_cell * unstaged) AS unstaged,
        sum(of_cell * opened) AS opened, sum(of_cell * of_cell * opened) AS squares,
        sum(of_cell * stands_for) AS crossed
    FROM cell_weights
    GROUP BY span_no, family, pen_no
),
weighed AS (
    SELECT p.*,
        coalesce(l.still, 0) AS still,
        -- where nothing of the pen was opened, all the sums divided are 0
        CAST(coalesce(l.still, 0) AS DOUBLE) / greatest(p.opened, 1) AS of_pen,
        coalesce(l.infertile, 0) AS lent_infertile, coalesce(l.clear, 0) AS lent_clear,
        coalesce(l.early, 0) AS lent_early, coalesce(l.mid, 0) AS lent_mid, coalesce(l.late, 0) AS lent_late,
        coalesce(l.shell, 0) AS lent_shell, coalesce(l.unstaged, 0) AS lent_unstaged,
        coalesce(l.opened, 0) AS lent_opened, coalesce(l.squares, 0) AS lent_squares,
        coalesce(l.crossed, 0) AS lent_crossed
    FROM pens_summed p
    LEFT JOIN lent l ON l.span_no = p.span_no AND l.family = p.family AND l.pen_no = p.pen_no
),
by_pen AS (
    SELECT *,
        own_infertile + lent_infertile + of_pen * infertile AS shared_infertile,
        own_clear + lent_clear + of_pen * clear AS shared_clear,
        own_early + lent_early + of_pen * early AS shared_early,
        own_mid + lent_mid + of_pen * mid AS shared_mid,
        own_late + lent_late + of_pen * late AS shared_late,
        own_shell + lent_shell + of_pen * shell AS shared_shell,
        own_unstaged + lent_unstaged + of_pen * unstaged AS shared_unstaged,
        CASE WHEN opened = 0 THEN still ELSE 0 END AS unshared,
        stands_for_squares + 2 * lent_crossed + 2 * of_pen * stands_for
            + lent_squares + 2 * of_pen * lent_opened + of_pen * of_pen * opened AS opened_squares
    FROM weighed
),
-- the eggs of each batch, by pen and in all, in every family
batch_eggs AS (
    SELECT span_no, each_pen, species, pen_no, batch_no,
        count(*) AS all_trays, sum(followed) AS all_eggs,
        sum(CASE WHEN in_hatch THEN 1 ELSE 0 END) AS hatch_trays,
        sum(CASE WHEN in_hatch THEN followed ELSE 0 END) AS hatch_eggs,
        sum(CASE WHEN in_fertile THEN 1 ELSE 0 END) AS fertile_trays,
        sum(CASE WHEN in_fertile THEN followed ELSE 0 END) AS fertile_eggs,
        sum(CASE WHEN in_staged THEN 1 ELSE 0 END) AS staged_trays,
        sum(CASE WHEN in_staged THEN followed ELSE 0 END) AS staged_eggs,
        sum(CASE WHEN in_culled THEN 1 ELSE 0 END) AS culled_trays,
        sum(CASE WHEN in_culled THEN followed ELSE 0 END) AS culled_eggs,
        sum(CASE WHEN in_rotten THEN 1 ELSE 0 END) AS rotten_trays,
        sum(CASE WHEN in_rotten THEN followed ELSE 0 END) AS rotten_eggs
    FROM span_trays
    GROUP BY span_no, each_pen, species, pen_no, batch_no
),
leveled AS (
    SELECT span_no, species, pen_no, 'pen' AS level, batch_no, all_trays, all_eggs, hatch_trays, hatch_eggs,
        fertile_trays, fertile_eggs, staged_trays, staged_eggs, culled_trays, culled_eggs, rotten_trays,
        rotten_eggs
    FROM batch_eggs
    WHERE each_pen
    UNION ALL
    SELECT span_no, species, -1, 'species', batch_no, sum(all_trays), sum(all_eggs), sum(hatch_trays),
        sum(hatch_eggs), sum(fertile_trays), sum(fertile_eggs), sum(staged_trays), sum(staged_eggs),
        sum(culled_trays), sum(culled_eggs), sum(rotten_trays), sum(rotten_eggs)
    FROM batch_eggs
    GROUP BY span_no, species, batch_no
),
batch_sums AS (
    SELECT span_no, species, pen_no, level,
        count(*) AS all_batches, sum(CAST(all_eggs AS DOUBLE) * all_eggs) AS all_squares,
        sum(CASE WHEN hatch_trays > 0 THEN 1 ELSE 0 END) AS hatch_batches,
        sum(CAST(hatch_eggs AS DOUBLE) * hatch_eggs) AS hatch_squares,
        sum(CASE WHEN fertile_trays > 0 THEN 1 ELSE 0 END) AS fertile_batches,
        sum(CAST(fertile_eggs AS DOUBLE) * fertile_eggs) AS fertile_squares,
        sum(CASE WHEN staged_trays > 0 THEN 1 ELSE 0 END) AS staged_batches,
        sum(CAST(staged_eggs AS DOUBLE) * staged_eggs) AS staged_squares,
        sum(CASE WHEN culled_trays > 0 THEN 1 ELSE 0 END) AS culled_batches,
        sum(CAST(culled_eggs AS DOUBLE) * culled_eggs) AS culled_squares,
        sum(CASE WHEN rotten_trays > 0 THEN 1 ELSE 0 END) AS rotten_batches,
        sum(CAST(rotten_eggs AS DOUBLE) * rotten_eggs) AS rotten_squares
    FROM leveled
    GROUP BY span_no, species, pen_no, level
),
by_level AS (
    SELECT p.*, l.level, CASE l.level WHEN 'pen' THEN p.pen_no ELSE -1 END AS level_no,
        CASE l.level WHEN 'pen' THEN p.pen ELSE '' END AS level_pen
    FROM by_pen p
    JOIN (VALUES ('species'), ('pen')) AS l (level) ON l.level = 'species' OR p.each_pen
),
summed AS (
    SELECT span_no, level, species, level_no, family, min(level_pen) AS pen,
        CAST(sum(trays) AS BIGINT) AS trays,
        CAST(sum(eggs_set) AS BIGINT) AS eggs_set, CAST(sum(cracked) AS BIGINT) AS cracked,
        CAST(sum(hatched) AS BIGINT) AS hatched, CAST(sum(culled) AS BIGINT) AS culled,
        CAST(sum(infertile) AS BIGINT) AS infertile, CAST(sum(clear) AS BIGINT) AS clear,
        CAST(sum(early) AS BIGINT) AS early, CAST(sum(mid) AS BIGINT) AS mid,
        CAST(sum(late) AS BIGINT) AS late, CAST(sum(shell) AS BIGINT) AS shell,
        CAST(sum(unstaged) AS BIGINT) AS unstaged, CAST(sum(unknown) AS BIGINT) AS unknown,
        sum(shared_infertile) AS shared_infertile, sum(shared_clear) AS shared_clear,
        sum(shared_early) AS shared_early, sum(shared_mid) AS shared_mid, sum(shared_late) AS shared_late,
        sum(shared_shell) AS shared_shell, sum(shared_unstaged) AS shared_unstaged,
        CAST(sum(unshared) AS DOUBLE) AS unshared, sum(opened_squares) AS opened_squares,
        sum(tray_squares) AS tray_squares,
        CAST(sum(rotten) AS BIGINT) AS rotten, CAST(sum(unaccounted) AS BIGINT) AS unaccounted
    FROM by_level
    GROUP BY span_no, level, species, level_no, family
)
SELECT s.span_no, s.species, s.pen, s.family, s.trays,
    CAST(CASE s.family WHEN 'all' THEN b.all_batches WHEN 'hatch' THEN b.hatch_batches
        WHEN 'fertile' THEN b.fertile_batches WHEN 'staged' THEN b.staged_batches
        WHEN 'culled' THEN b.culled_batches ELSE b.rotten_batches END AS BIGINT) AS batches,
    s.eggs_set, s.cracked, s.hatched, s.culled, s.infertile, s.clear, s.early, s.mid, s.late, s.shell,
    s.unstaged, s.unknown, s.shared_infertile, s.shared_clear, s.shared_early, s.shared_mid, s.shared_late,
    s.shared_shell, s.shared_unstaged, s.unshared, s.opened_squares, s.tray_squares,
    CASE s.family WHEN 'all' THEN b.all_squares WHEN 'hatch' THEN b.hatch_squares
        WHEN 'fertile' THEN b.fertile_squares WHEN 'staged' THEN b.staged_squares
        WHEN 'culled' THEN b.culled_squares ELSE b.rotten_squares END AS batch_squares,
    s.rotten, s.unaccounted
FROM summed s
JOIN batch_sums b ON b.span_no = s.span_no AND b.species = s.species AND b.level = s.level
    AND b.pen_no = s.level_no
ORDER BY s.span_no, s.level DESC, s.species, s.pen, s.family
