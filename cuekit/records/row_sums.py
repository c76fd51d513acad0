"""A sum over each row of the records, by which a row that the disk has altered is known.

SQLite notices damage to the build of its file, not to what is written in it: of one bit changed
anywhere, one in twenty made another number of a bout, and nothing said so. CRC-32 finds every change of up
to 32 bits in a row. It is no protection from somebody who means to alter records, and needs none.
"""

from __future__ import annotations

import sqlite3
import zlib

ENTRY_SUM = "row_sum(id, kind, about, version, code, stored_at, record)"
CONTRACT_SUM = "row_sum(bout, contract)"
ADD_ENTRY = (
    "INSERT INTO entries (id, kind, about, version, code, stored_at, record, sum) "
    "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, row_sum(?1, ?2, ?3, ?4, ?5, ?6, ?7))"
)
ADD_CONTRACT = "INSERT INTO contracts (bout, contract, sum) VALUES (?1, ?2, row_sum(?1, ?2))"


def teach_sums(connection: sqlite3.Connection) -> None:
    """Let a connection work out sums in SQL."""
    connection.create_function("row_sum", -1, row_sum, deterministic=True)


def row_sum(*columns: object) -> int:
    """The sum over the columns of a row, in their order."""
    return zlib.crc32("\x1f".join(map(str, columns)).encode("utf-8", "surrogatepass"))


def sum_again(connection: sqlite3.Connection, table: str, key: str, row: object) -> None:
    """Put the sum right after a row was changed on purpose; a file of an older version has none."""
    (there,) = connection.execute(
        "SELECT count(*) FROM pragma_table_info(?) WHERE name = 'sum'", (table,)
    ).fetchone()
    if there:
        sums = {"entries": ENTRY_SUM, "contracts": CONTRACT_SUM}
        connection.execute(f"UPDATE {table} SET sum = {sums[table]} WHERE {key} = ?", (row,))
