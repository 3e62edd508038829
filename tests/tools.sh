# Sourced from the top of the tree: where the tools of the tests are, and how they are installed.
tools="${PONDWEIGH_TEST_TOOLS:-target/test-tools}"
mkdir -p "$tools"
tools="$(cd "$tools" && pwd)"
export PONDWEIGH_TEST_TOOLS="$tools"

need() { # need COMMAND PACKAGE...: installs Debian packages where a command is missing
  local command="$1"
  shift
  if ! command -v "$command" >/dev/null 2>&1; then
    echo "installing $*"
    apt-get update -qq && apt-get install -y -qq "$@" >/dev/null
  fi
}

need_browser() { # installs Chromium, Node and the npm packages of tests/browser, as its lock file says
  need chromium chromium
  need node nodejs
  need npm npm
  local file installed="$tools/browser"
  if ! cmp -s tests/browser/package-lock.json "$installed/installed.json"; then
    mkdir -p "$installed"
    for file in package.json package-lock.json; do cp "tests/browser/$file" "$installed/$file"; done
    npm ci --silent --no-audit --no-fund --ignore-scripts --prefix "$installed"
    cp tests/browser/package-lock.json "$installed/installed.json"
  fi
}
