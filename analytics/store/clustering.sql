-- Per measure, the sums from which the clustering of eggs within trays and batches is estimated
-- (analytics/measures/counts.py, ClusterSums, has the formulas and the names used here).
--
-- All closed batches up to $until, whatever the question's filters: a pen's own few trays cannot tell it.

WITH family_trays AS (
    SELECT f.family, t.*
    FROM trays_of t
    JOIN (VALUES ('fertile'), ('staged')) AS f (family)
        ON CASE f.family WHEN 'fertile' THEN t.in_fertile ELSE t.in_staged END
    WHERE t.closed AND t.hatch_on <= $until::DATE
),
cell_opened AS (
    SELECT family, pen_no, batch_no, sum(opened) AS opened, sum(infertile) AS infertile,
        sum(early) AS early, sum(mid) AS mid, sum(late) AS late, sum(shell) AS shell
    FROM family_trays
    GROUP BY family, pen_no, batch_no
),
pen_opened AS (
    SELECT family, pen_no, sum(opened) AS opened, sum(infertile) AS infertile,
        sum(early) AS early, sum(mid) AS mid, sum(late) AS late, sum(shell) AS shell
    FROM cell_opened
    GROUP BY family, pen_no
),
-- what tells the stages of a tray's unknown eggs: its own opened eggs, its cell's, its pen's
nothing_open AS (
    SELECT t.family, t.pen_no, t.batch_no, t.followed, t.hatched + t.culled AS hatched, t.unknown,
        t.infertile, t.early, t.mid, t.late, t.shell,
        CASE WHEN t.opened >= $enough THEN t.opened WHEN c.opened >= $enough THEN c.opened ELSE p.opened END
            AS told_by,
        CASE WHEN t.opened >= $enough THEN t.infertile WHEN c.opened >= $enough THEN c.infertile
            ELSE p.infertile END AS told_infertile,
        CASE WHEN t.opened >= $enough THEN t.early WHEN c.opened >= $enough THEN c.early ELSE p.early END
            AS told_early,
        CASE WHEN t.opened >= $enough THEN t.mid WHEN c.opened >= $enough THEN c.mid ELSE p.mid END AS told_mid,
        CASE WHEN t.opened >= $enough THEN t.late WHEN c.opened >= $enough THEN c.late ELSE p.late END
            AS told_late,
        CASE WHEN t.opened >= $enough THEN t.shell WHEN c.opened >= $enough THEN c.shell ELSE p.shell END
            AS told_shell
    FROM family_trays t
    JOIN cell_opened c ON c.family = t.family AND c.pen_no = t.pen_no AND c.batch_no = t.batch_no
    JOIN pen_opened p ON p.family = t.family AND p.pen_no = t.pen_no
    WHERE t.clear = 0 AND t.unknown * 10 <= t.followed AND (t.unknown = 0 OR p.opened > 0)
),
shared AS (
    SELECT family, pen_no, batch_no, followed, hatched,
        infertile + unknown * told_infertile / greatest(told_by, 1.0) AS infertile,
        early + unknown * told_early / greatest(told_by, 1.0) AS early,
        mid + unknown * told_mid / greatest(told_by, 1.0) AS mid,
        late + unknown * told_late / greatest(told_by, 1.0) AS late,
        shell + unknown * told_shell / greatest(told_by, 1.0) AS shell
    FROM nothing_open
),
outcomes AS (
    SELECT 'hatch_of_set' AS measure, pen_no, batch_no,
        CAST(hatched + culled AS DOUBLE) AS y, CAST(eggs_set AS DOUBLE) AS n
    FROM trays_of WHERE closed AND hatch_on <= $until::DATE AND in_hatch
    UNION ALL
    SELECT 'saleable_of_set', pen_no, batch_no, hatched, eggs_set
    FROM trays_of WHERE closed AND hatch_on <= $until::DATE AND in_hatch
    UNION ALL
    SELECT 'cull_rate', pen_no, batch_no, culled, hatched + culled
    FROM trays_of WHERE closed AND hatch_on <= $until::DATE AND in_culled
    UNION ALL
    SELECT 'rotten', pen_no, batch_no, rotten, eggs_set
    FROM trays_of WHERE closed AND hatch_on <= $until::DATE AND in_rotten
    UNION ALL
    SELECT 'fertility', pen_no, batch_no, followed - infertile, followed FROM shared WHERE family = 'fertile'
    UNION ALL
    SELECT 'hatch_of_fertile', pen_no, batch_no, hatched, followed - infertile
    FROM shared WHERE family = 'fertile'
    UNION ALL
    SELECT 'early_loss', pen_no, batch_no, early, followed - infertile FROM shared WHERE family = 'staged'
    UNION ALL
    SELECT 'mid_loss', pen_no, batch_no, mid, followed - infertile FROM shared WHERE family = 'staged'
    UNION ALL
    SELECT 'late_loss', pen_no, batch_no, late, followed - infertile FROM shared WHERE family = 'staged'
    UNION ALL
    SELECT 'shell_loss', pen_no, batch_no, shell, followed - infertile FROM shared WHERE family = 'staged'
),
pens_kept AS (
    SELECT measure, pen_no, sum(n) AS pen_n, sum(n * n) AS pen_s2, sum(y) / sum(n) AS p
    FROM outcomes
    WHERE n > 1e-9
    GROUP BY measure, pen_no
    HAVING sum(y) > 1e-9 AND sum(n) - sum(y) > 1e-9
),
cells AS (
    SELECT o.measure, o.pen_no, o.batch_no, k.pen_n, k.pen_s2,
        count(*) AS trays, sum(o.n) AS n, sum(o.n * o.n) AS s2, sum(o.n * o.n * o.n) AS s3,
        sum((o.y - o.n * k.p) / sqrt(k.p * (1 - k.p))) AS z,
        sum((o.y - o.n * k.p) * (o.y - o.n * k.p) / (k.p * (1 - k.p))) AS z2,
        sum((o.y - o.n * k.p) * (o.y - o.n * k.p) / (k.p * (1 - k.p) * o.n)) AS dispersion,
        sum((o.n - 1) * (1 - o.n / k.pen_n)) AS tray_weight
    FROM outcomes o
    JOIN pens_kept k ON k.measure = o.measure AND k.pen_no = o.pen_no
    WHERE o.n > 1e-9
    GROUP BY o.measure, o.pen_no, o.batch_no, k.pen_n, k.pen_s2
),
batches AS (
    SELECT measure, batch_no, sum(n) AS batch_n, sum(z) AS batch_z
    FROM cells
    GROUP BY measure, batch_no
),
batch_sums AS (
    SELECT measure, count(*) AS batches, sum(batch_z * batch_z) AS z_squares, sum(batch_n * batch_n) AS n_squares
    FROM batches
    GROUP BY measure
),
own_meetings AS (
    SELECT measure, pen_no, sum(n * n) AS c_own FROM cells GROUP BY measure, pen_no
),
-- C_ij / sqrt(N_i N_j): how much two pens met in the same batches; wide, since pairs are many. Each pair once.
wide_cells AS (
    SELECT pen_no, batch_no,
        sum(CASE measure WHEN 'fertility' THEN n / sqrt(pen_n) ELSE 0 END) AS fertility,
        sum(CASE measure WHEN 'hatch_of_set' THEN n / sqrt(pen_n) ELSE 0 END) AS hatch_of_set,
        sum(CASE measure WHEN 'saleable_of_set' THEN n / sqrt(pen_n) ELSE 0 END) AS saleable_of_set,
        sum(CASE measure WHEN 'cull_rate' THEN n / sqrt(pen_n) ELSE 0 END) AS cull_rate,
        sum(CASE measure WHEN 'hatch_of_fertile' THEN n / sqrt(pen_n) ELSE 0 END) AS hatch_of_fertile,
        sum(CASE measure WHEN 'early_loss' THEN n / sqrt(pen_n) ELSE 0 END) AS early_loss,
        sum(CASE measure WHEN 'mid_loss' THEN n / sqrt(pen_n) ELSE 0 END) AS mid_loss,
        sum(CASE measure WHEN 'late_loss' THEN n / sqrt(pen_n) ELSE 0 END) AS late_loss,
        sum(CASE measure WHEN 'shell_loss' THEN n / sqrt(pen_n) ELSE 0 END) AS shell_loss,
        sum(CASE measure WHEN 'rotten' THEN n / sqrt(pen_n) ELSE 0 END) AS rotten
    FROM cells
    GROUP BY pen_no, batch_no
),
met AS (
    SELECT CASE WHEN a.pen_no = b.pen_no THEN 1 ELSE 2 END AS twice,
        sum(a.fertility * b.fertility) AS fertility,
        sum(a.hatch_of_set * b.hatch_of_set) AS hatch_of_set,
        sum(a.saleable_of_set * b.saleable_of_set) AS saleable_of_set,
        sum(a.cull_rate * b.cull_rate) AS cull_rate,
        sum(a.hatch_of_fertile * b.hatch_of_fertile) AS hatch_of_fertile,
        sum(a.early_loss * b.early_loss) AS early_loss,
        sum(a.mid_loss * b.mid_loss) AS mid_loss,
        sum(a.late_loss * b.late_loss) AS late_loss,
        sum(a.shell_loss * b.shell_loss) AS shell_loss,
        sum(a.rotten * b.rotten) AS rotten
    FROM wide_cells a
    JOIN wide_cells b ON b.batch_no = a.batch_no AND b.pen_no >= a.pen_no
    GROUP BY a.pen_no, b.pen_no
),
met_squares AS (
    SELECT
        sum(twice * fertility * fertility) AS fertility,
        sum(twice * hatch_of_set * hatch_of_set) AS hatch_of_set,
        sum(twice * saleable_of_set * saleable_of_set) AS saleable_of_set,
        sum(twice * cull_rate * cull_rate) AS cull_rate,
        sum(twice * hatch_of_fertile * hatch_of_fertile) AS hatch_of_fertile,
        sum(twice * early_loss * early_loss) AS early_loss,
        sum(twice * mid_loss * mid_loss) AS mid_loss,
        sum(twice * late_loss * late_loss) AS late_loss,
        sum(twice * shell_loss * shell_loss) AS shell_loss,
        sum(twice * rotten * rotten) AS rotten
    FROM met
),
meeting_sums AS (
    SELECT 'fertility' AS measure, fertility AS weight FROM met_squares
    UNION ALL SELECT 'hatch_of_set', hatch_of_set FROM met_squares
    UNION ALL SELECT 'saleable_of_set', saleable_of_set FROM met_squares
    UNION ALL SELECT 'cull_rate', cull_rate FROM met_squares
    UNION ALL SELECT 'hatch_of_fertile', hatch_of_fertile FROM met_squares
    UNION ALL SELECT 'early_loss', early_loss FROM met_squares
    UNION ALL SELECT 'mid_loss', mid_loss FROM met_squares
    UNION ALL SELECT 'late_loss', late_loss FROM met_squares
    UNION ALL SELECT 'shell_loss', shell_loss FROM met_squares
    UNION ALL SELECT 'rotten', rotten FROM met_squares
),
cell_sums AS (
    SELECT c.measure, CAST(sum(c.trays) AS BIGINT) AS trays, count(DISTINCT c.pen_no) AS pens,
        sum(c.dispersion) AS dispersion, sum(c.tray_weight) AS tray_weight, sum(c.z2) AS z2,
        sum((c.n * c.n - c.s2) / c.pen_n) AS shared_pens,
        sum(2 * (c.n * c.s2 - c.s3) / c.pen_n
            - (c.n * c.n - c.s2) * c.pen_s2 / (c.pen_n * c.pen_n)) AS cross_own,
        sum(2 * b.batch_n * c.n * c.n / c.pen_n) AS met,
        sum(c.s2 * (1 - 2 * c.n / c.pen_n + m.c_own / (c.pen_n * c.pen_n))) AS own_weight
    FROM cells c
    JOIN batches b ON b.measure = c.measure AND b.batch_no = c.batch_no
    JOIN own_meetings m ON m.measure = c.measure AND m.pen_no = c.pen_no
    GROUP BY c.measure
)
SELECT s.measure, s.trays, s.pens, b.batches, s.dispersion, s.tray_weight, s.shared_pens,
    b.z_squares - s.z2 AS cross_products, s.cross_own,
    b.n_squares - s.met + m.weight - s.own_weight AS cross_weight
FROM cell_sums s
JOIN batch_sums b ON b.measure = s.measure
JOIN meeting_sums m ON m.measure = s.measure
ORDER BY s.measure
