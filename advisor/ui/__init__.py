"""The window; the only place that imports Qt."""

from advisor.ui.constants_kept import keep_constants

keep_constants()
