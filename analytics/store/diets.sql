-- For each tray of `ladder_cells` the share of its laying days that falls into each feed period of its pen.
-- Laying days not written down: the day of setting less the storage.

WITH laying AS (
    SELECT c.batch_key, c.tray_key, t.pen_key,
        coalesce(t.laid_first, t.set_day - CAST(round(coalesce(t.storage_days, 0)) AS INTEGER)) AS first_day,
        coalesce(t.laid_last, t.set_day - CAST(round(coalesce(t.storage_days, 0)) AS INTEGER)) AS last_day
    FROM ladder_cells c
    JOIN chosen t ON t.batch_key = c.batch_key AND t.tray_key = c.tray_key
)
SELECT l.batch_key, l.tray_key, d.feed, d.calcium_pct, d.protein_pct, d.supplement,
    (date_diff('day', greatest(l.first_day, d."from"), least(l.last_day, coalesce(d."to", l.last_day))) + 1)
        / (date_diff('day', l.first_day, l.last_day) + 1.0) AS share
FROM laying l
JOIN diets d ON label_of(d.pen) = l.pen_key AND d.withdrawn_in IS NULL
    AND d."from" <= l.last_day AND coalesce(d."to", l.last_day) >= l.first_day
ORDER BY l.batch_key, l.tray_key, d."from"
