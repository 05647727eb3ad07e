#!/bin/sh
# What a machine of continuous integration runs: it fails when a file is wrong or a scenario does not pass, and leaves a
# page, a JUnit file, a summary in Markdown and the records. Put your firmware's address in BOARD; without it the built-in
# board flies. What drystage lint prints is file:line:column: text, which most such machines turn into marks.
set -eu
cd "$(dirname "$0")"
drystage lint
drystage bench --board "${BOARD:-mock}" --format junit --markdown summary.md >junit.xml
