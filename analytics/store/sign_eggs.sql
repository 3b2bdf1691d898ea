-- The chosen trays of closed batches with what was seen in eggs opened one by one, and in their chicks later.
--
-- A blank cell was not looked at; for positions, where the sheet has no word for a usual one, a blank among
-- listed full-grown eggs counts as usual once any position is written down at all (`positions_written`).

WITH opened AS (
    SELECT label_of(batch) AS batch_key, label_of(tray) AS tray_key, count(*) AS listed,
        count(*) FILTER (WHERE "class" IN ('internal_pip', 'external_pip')) AS pipped,
        count(dry_membrane) FILTER (WHERE "class" IN ('internal_pip', 'external_pip')) AS dry_judged,
        count(*) FILTER (WHERE dry_membrane AND "class" IN ('internal_pip', 'external_pip')) AS dry,
        count(*) FILTER (WHERE "class" IN ('late_dead', 'internal_pip', 'external_pip')) AS full_grown,
        count(*) FILTER (WHERE malposition = 2) AS head_small_end,
        count(*) FILTER (WHERE malposition IN (1, 3, 4, 5, 6)) AS malposition,
        count(malposition) AS positions,
        count(malformed) AS malformed_judged,
        count(*) FILTER (WHERE malformed) AS malformed,
        count(*) FILTER (WHERE "class" = 'early_dead') AS early,
        count(day) FILTER (WHERE "class" = 'early_dead') AS early_with_day,
        count(*) FILTER (WHERE "class" = 'early_dead' AND day <= 3) AS days_1_3
    FROM opened_eggs
    WHERE withdrawn_in IS NULL
    GROUP BY 1, 2
),
latest_chicks AS (
    SELECT label_of(batch) AS batch_key, label_of(tray) AS tray_key, alive, dead, splay_leg,
        row_number() OVER (PARTITION BY label_of(batch), label_of(tray) ORDER BY day DESC) AS place
    FROM chicks
    WHERE withdrawn_in IS NULL
)
SELECT c.batch, c.tray, CAST(c.shell AS DOUBLE) AS shell, CAST(c.early AS DOUBLE) AS early_counted,
    CAST(c.followed AS DOUBLE) AS followed, CAST(c.hatched + c.culled AS DOUBLE) AS out,
    CAST(c.followed - c.infertile - c.clear AS DOUBLE) AS fertile,
    c.in_staged, coalesce(o.listed, 0) AS listed, coalesce(o.pipped, 0) AS pipped,
    coalesce(o.dry_judged, 0) AS dry_judged, coalesce(o.dry, 0) AS dry,
    coalesce(o.full_grown, 0) AS full_grown, coalesce(o.head_small_end, 0) AS head_small_end,
    coalesce(o.malposition, 0) AS malposition,
    coalesce(sum(o.positions) OVER (), 0) > 0 AS positions_written,
    coalesce(o.malformed_judged, 0) AS malformed_judged, coalesce(o.malformed, 0) AS malformed,
    coalesce(o.early, 0) AS early, coalesce(o.early_with_day, 0) AS early_with_day,
    coalesce(o.days_1_3, 0) AS days_1_3,
    CAST(k.alive + k.dead AS DOUBLE) AS raised, CAST(k.dead AS DOUBLE) AS died,
    CAST(CASE WHEN k.splay_leg IS NULL THEN NULL ELSE k.alive + k.dead END AS DOUBLE) AS splay_judged,
    CAST(k.splay_leg AS DOUBLE) AS splay_leg, t.storage_c,
    c.in_rotten, CAST(c.rotten AS DOUBLE) AS rotten, CAST(c.eggs_set AS DOUBLE) AS eggs_set
FROM chosen c
JOIN trays t ON label_of(t.batch) = c.batch_key AND label_of(t.tray) = c.tray_key AND t.withdrawn_in IS NULL
LEFT JOIN opened o ON o.batch_key = c.batch_key AND o.tray_key = c.tray_key
LEFT JOIN latest_chicks k ON k.batch_key = c.batch_key AND k.tray_key = c.tray_key AND k.place = 1
WHERE c.closed
ORDER BY c.batch_key, c.tray_key
