"""The desk: use cases, the only place where the store meets the science.

`today_view`, `plan_view` and `explain_view` give frozen view models; records are kept by
`dawnlevel.desk.records` and files by `dawnlevel.desk.exchange.exchange`.
"""
