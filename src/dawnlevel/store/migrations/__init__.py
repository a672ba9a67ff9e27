"""How a store's tables came to be, one file a step; run by `dawnlevel.store.migrate`."""
