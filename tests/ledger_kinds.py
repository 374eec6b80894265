"""Which test files hold for a ledger of each kind, and what in them is about one kind alone, with the reason.

A test in one of `BOTH` that opens a ledger and neither is run on both kinds nor named here fails, and so does one that
is run on a server and asks none (`conftest.py`). `test_shape.py` holds the names to the tests that are there.
"""

from __future__ import annotations

BOTH = (
    "test_account_secrets.py",
    "test_accounts.py",
    "test_after_a_loss.py",
    "test_alcoa.py",
    "test_arrival.py",
    "test_backup.py",
    "test_bundle.py",
    "test_centre_key.py",
    "test_checkpoints.py",
    "test_drill.py",
    "test_ending.py",
    "test_erasing.py",
    "test_health.py",
    "test_ledger.py",
    "test_ledger_laws.py",
    "test_merging.py",
    "test_vault.py",
    "test_waiting_file.py",
)
"""Files in which every test that opens a ledger is run on SQLite and on PostgreSQL."""

ONE_KIND: dict[str, dict[str, tuple[str, ...]]] = {
    "test_after_a_loss.py": {
        "pages of SQLite's file": ("test_a_torn_file_is_looked_at_again_until_it_is_put_right",),
        "an older ledger.db put back by hand": (
            "test_a_ledger_of_before_its_newest_chain_is_told_as_a_loss_at_opening",
        ),
    },
    "test_backup.py": {
        "a made backup is the same kind of file from both: what is in it, not where it came from": (
            "test_a_backup_cut_short_is_refused",
            "test_a_backup_that_changed_on_its_disk_is_refused",
            "test_a_file_with_anything_else_in_it_is_refused_and_nothing_is_written",
            "test_a_file_with_very_many_members_is_refused",
        ),
    },
    "test_centre_key.py": {
        "the commands name no database; the key is apart from both": (
            "test_the_command_shows_the_key_gives_out_its_public_part_and_copies_it",
        ),
    },
    "test_drill.py": {
        "it begins in a folder and goes to a server": (
            "test_the_whole_demo_goes_from_sqlite_to_postgresql_and_back_with_equal_hashes",
        ),
    },
    "test_ending.py": {
        "pages of SQLite's file": ("test_a_torn_index_is_found_after_a_crash",),
        "`course sample` makes the demo centre in a folder; what is told comes of its opening": (
            "test_the_command_and_the_first_page_tell_it",
        ),
    },
    "test_health.py": {
        "SQLite's version and the journal of its file": ("test_a_sqlite_that_is_too_old_and_another_journal_are_told",),
    },
    "test_ledger.py": {
        "SQLite's own guards, settings and limits; a server's are in test_postgresql.py": (
            "test_a_chain_cannot_fork_here",
            "test_a_file_that_may_not_grow_says_so_and_keeps_what_was_saved",
            "test_a_full_database_says_so_and_keeps_what_was_saved",
            "test_an_older_library_saves_too_and_says_how",
            "test_each_connection_that_writes_has_the_settings_that_keep_a_save_safe",
            "test_missing_guards_are_found",
            "test_the_database_refuses_to_change_or_remove_an_event",
        ),
        "the write-ahead log is a file beside ledger.db": (
            "test_a_log_cut_short_is_a_lost_tail",
            "test_a_log_left_behind_by_a_copy_is_a_lost_tail",
        ),
        "a folder that is copied or set back holds the events only where ledger.db is in it": (
            "test_a_chain_that_names_a_predecessor_that_is_not_there_is_found",
            "test_a_copied_folder_begins_a_new_chain_that_names_the_old_head",
            "test_an_older_copy_put_back_in_place_begins_a_new_chain",
            "test_an_older_copy_that_was_continued_is_a_fork",
        ),
        "ledger.db itself is missing, replaced or may not be written; a server's database in test_postgresql.py": (
            "test_a_database_that_went_missing_is_not_made_anew_over_its_traces",
            "test_a_file_that_is_no_database_is_told_and_left_as_it_is",
            "test_a_folder_that_cannot_be_written_is_read_and_not_written",
            "test_a_ledger_is_not_made_over_another",
        ),
        "an event of another centre is that centre's own where several share a database": (
            "test_an_event_of_another_centre_or_origin_is_found",
        ),
    },
    "test_ledger_laws.py": {
        "any byte of SQLite's file; the same of a server's rows is in test_postgresql.py": (
            "test_any_changed_byte_of_any_hashed_field_is_found",
        ),
    },
    "test_merging.py": {
        "a folder that is copied holds the events only where ledger.db is in it": (
            "test_a_copied_folder_that_was_used_on_two_machines_forks_and_both_branches_are_kept",
        ),
        "a ledger in its folder beside one on a server, compared": (
            "test_a_ledger_on_a_server_takes_in_the_same_events_and_facts_as_one_in_its_folder",
        ),
    },
}
"""File, reason, and the tests that open a ledger in its folder alone."""

WHOLE_FILES = {
    "test_after_saving.py": "what is told of a fault after a save is the program's, whichever database saved it",
    "test_audit_file.py": "an audit file is made of events, wherever they are; one of its tests asks either kind",
    "test_centres_apart.py": "logins and row level security are the server's",
    "test_collisions.py": "deadlocks and connections cut at a statement are the server's",
    "test_growth.py": "statements, indexes and triggers are counted as SQLite has them",
    "test_hanging_server.py": "only a server can hang",
    "test_layout.py": "a move is tried on each kind by tests of its own: the statements are not the same",
    "test_postgresql.py": "settings, roles, locks and connections of a server",
}
"""Other files that make a bare ledger, with the reason why they are not run on both."""

KINDS = ("sqlite", "postgresql")


def kinds_of(file: str, test: str) -> tuple[str, ...]:
    """The kinds of database that a test in one of `BOTH` is run on."""
    alone = {name for tests in ONE_KIND.get(file, {}).values() for name in tests}
    return KINDS[:1] if test in alone else KINDS
