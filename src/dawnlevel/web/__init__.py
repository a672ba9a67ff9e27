"""The page beside the tank: server-rendered pages that work without script, small modules on top.

`dawnlevel.web.app.create_app` makes the application; no science lives here, pages show the desk's views.
"""
