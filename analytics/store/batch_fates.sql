-- What became of the eggs of the chosen batch, by species and by pen; only trays whose hatch is written down.

SELECT species, coalesce(pen_label, '') AS pen,
    count(*) AS trays, sum(eggs_set) AS eggs_set,
    CAST(coalesce(sum(eggs_set) FILTER (WHERE in_hatch), 0) AS BIGINT) AS eggs,
    CAST(coalesce(sum(hatched) FILTER (WHERE in_hatch), 0) AS BIGINT) AS hatched,
    CAST(coalesce(sum(culled) FILTER (WHERE in_hatch), 0) AS BIGINT) AS culled,
    CAST(coalesce(sum(infertile) FILTER (WHERE in_hatch), 0) AS BIGINT) AS infertile,
    CAST(coalesce(sum(clear) FILTER (WHERE in_hatch), 0) AS BIGINT) AS clear,
    CAST(coalesce(sum(early) FILTER (WHERE in_hatch), 0) AS BIGINT) AS early,
    CAST(coalesce(sum(mid) FILTER (WHERE in_hatch), 0) AS BIGINT) AS mid,
    CAST(coalesce(sum(late) FILTER (WHERE in_hatch), 0) AS BIGINT) AS late,
    CAST(coalesce(sum(shell) FILTER (WHERE in_hatch), 0) AS BIGINT) AS shell,
    CAST(coalesce(sum(unstaged) FILTER (WHERE in_hatch), 0) AS BIGINT) AS unstaged,
    CAST(coalesce(sum(rotten) FILTER (WHERE in_hatch), 0) AS BIGINT) AS rotten,
    CAST(coalesce(sum(cracked) FILTER (WHERE in_hatch), 0) AS BIGINT) AS cracked,
    CAST(coalesce(sum(not_opened) FILTER (WHERE in_hatch), 0) AS BIGINT) AS not_opened,
    CAST(coalesce(sum(unaccounted) FILTER (WHERE in_hatch), 0) AS BIGINT) AS unaccounted,
    CAST(count(*) FILTER (WHERE storage_days IS NULL) AS BIGINT) AS trays_without_storage,
    min(storage_days) AS storage_low, max(storage_days) AS storage_high,
    sum(eggs_set * storage_days) / nullif(sum(CASE WHEN storage_days IS NULL THEN 0 ELSE eggs_set END), 0)
        AS storage_days
FROM (SELECT *, pen AS pen_label FROM chosen)
GROUP BY GROUPING SETS ((species), (species, pen_label))
ORDER BY species, pen_label NULLS FIRST
