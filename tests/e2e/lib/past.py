"""Invented blocks of the past, put into a store beside one that was really ridden."""
import datetime
import lzma
import sqlite3
import zlib

UTC = datetime.timezone.utc
BY_HAND = 3  # a state of the store
# What a block comes to when nothing else is said; all numbers are invented.
BLOCK = {"title": "Invented short block", "bike": "virtual", "state": 1, "ending": "done",
         "reason": "plan_done", "duration_s": 245, "length_ms": 240000, "work_j": 40000,
         "average_power_w": 163, "work_s": 120, "work_power_w": 210, "distance_m": 2000,
         "calories_kcal": 48, "calories_low_kcal": 40, "calories_high_kcal": 53,
         "in_range_pct": 80, "average_heart_bpm": 141, "max_heart_bpm": 167, "best_5s_w": 240,
         "best_30s_w": 215, "best_60s_w": 190, "best_180s_w": 165, "is_fresh": 0}


def at(year, month, day, hour=18):
    return int(datetime.datetime(year, month, day, hour, tzinfo=UTC).timestamp())


def remember(database, blocks, journal_of=1):
    """Each block is a dict with started_unix_s and what is not as in BLOCK; it gets the journal of
    ride `journal_of`, unless it was written down by hand. Gives their numbers."""
    numbers = []
    with sqlite3.connect(database) as store:
        for block in blocks:
            row = dict(BLOCK, **block)
            cursor = store.execute(f"INSERT INTO ride ({', '.join(row)}) "
                                   f"VALUES ({', '.join('?' * len(row))})", list(row.values()))
            numbers.append(cursor.lastrowid)
            if row["state"] != BY_HAND:
                store.execute("INSERT INTO journal SELECT ?, length, packed FROM journal "
                              "WHERE ride_id = ?", (numbers[-1], journal_of))
    store.close()
    return numbers


def forget(database, ride_id):
    with sqlite3.connect(database) as store:
        store.execute("DELETE FROM journal WHERE ride_id = ?", (ride_id,))
        store.execute("DELETE FROM ride WHERE id = ?", (ride_id,))
    store.close()


def unpacked(packed):
    """Of today's programs, or of those that packed with zlib."""
    try:
        return lzma.decompress(packed)
    except lzma.LZMAError:
        return zlib.decompress(packed)


def change_journal(database, ride_id, change):
    """What a ride without readings of a kind, or on a damaged disk, would have left."""
    with sqlite3.connect(database) as store:
        packed, = store.execute("SELECT packed FROM journal WHERE ride_id = ?",
                                (ride_id,)).fetchone()
        text = change(unpacked(packed))
        store.execute("UPDATE journal SET packed = ?, length = ? WHERE ride_id = ?",
                      (zlib.compress(text), len(text), ride_id))
    store.close()


def ten_years(end, count=1600):
    """So many blocks up to `end`, about three a week, that get slowly better and wobble."""
    blocks = []
    for i in range(count):
        wobble = (i * 7919 % 41 - 20) / 1000
        better = 1 + 0.2 * i / count + wobble
        blocks.append({"started_unix_s": end - (count - 1 - i) * 197000,
                       "work_j": round(40000 * better), "work_power_w": round(210 * better),
                       "best_5s_w": round(240 * better), "effort": i % 11, "feel": i % 5 + 1,
                       "title": ("20/10", "40/20")[i // 9 % 2], "is_fresh": i // 18 % 2})
    return blocks
