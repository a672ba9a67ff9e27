"""Records in and out: tables, packages, archives, copies, and whether the store is well."""
