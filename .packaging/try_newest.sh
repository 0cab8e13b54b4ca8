#!/usr/bin/env bash
# Before each release: install the newest of everything that pyproject.toml allows into a fresh environment, say what
# differs from tested.txt, and run the tests. Where they pass, `--freeze` as the first word writes tested.txt anew;
# further words go to pytest.
set -euo pipefail
cd "$(dirname "$0")/.."

freeze=
if [[ ${1-} == --freeze ]]; then
  freeze=1
  shift
fi
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
python3 -m venv "$place/venv"
"$place/venv/bin/pip" install --quiet --editable '.[all,test]'
echo 'newest (>) where it differs from tested (<):'
"$place/venv/bin/python" .packaging/freeze_tested.py --print | diff .packaging/tested.txt - || true
"$place/venv/bin/python" -m pytest -q "$@"
if [[ $freeze ]]; then
  "$place/venv/bin/python" .packaging/freeze_tested.py
  echo 'tested.txt is written anew'
fi
