# Shared by the scripts of deploy/: which tools are needed, where they live and how a missing one is made. Source it from
# the repository root, in bash. Every need_… function returns at once when the tool is there, says what it installs when
# it is not, asks for nothing, and ends the script with what to do where it cannot.
BARRELHEAD_HOME="${BARRELHEAD_HOME:-$PWD/.barrelhead}"
TOOLS="$BARRELHEAD_HOME/tools"
export BARRELHEAD_HOME PATH="$TOOLS/bin:$PATH"
BUF_VERSION=1.75.0
LINTER_VERSION=2.15.0

say() { printf '%s\n' "$*" >&2; }

give_up() {
  say "$*"
  exit 1
}

# need_home makes the folder everything lives in. Root may have made it in an earlier run of another user's checkout.
need_home() {
  if mkdir -p "$TOOLS/bin" "$BARRELHEAD_HOME/log" 2>/dev/null && [ -w "$TOOLS/bin" ] && [ -w "$BARRELHEAD_HOME/log" ]; then return; fi
  give_up "$BARRELHEAD_HOME cannot be written by $(id -un). Give it to this user (chown -R), remove it, or set BARRELHEAD_HOME to another folder."
}

# need_go finds Go, which is the one thing a machine must bring. An older Go from 1.21 on fetches the right one by itself.
need_go() {
  local wanted have
  wanted=$(sed -n 's/^go //p' go.mod)
  if ! command -v go >/dev/null && [ -x /usr/local/go/bin/go ]; then PATH="$PATH:/usr/local/go/bin"; fi
  command -v go >/dev/null || give_up "Go is missing. Install Go $wanted or newer, so that \`go version\` works in this shell, and run this again."
  need_home
  # A service account may have no home to cache in.
  if [ ! -w "${HOME:-/nonexistent}" ]; then export GOPATH="$BARRELHEAD_HOME/go" GOCACHE="$BARRELHEAD_HOME/gocache"; fi
  have=$(go env GOVERSION) || give_up "Go $wanted or newer is needed and could not be fetched. Install it, so that \`go version\` shows it, and run this again."
  if [ "$(printf '%s\n' "$wanted" "${have#go}" | sort -V | head -n 1)" != "$wanted" ]; then
    give_up "Go $wanted or newer is needed, but this is $have. Install a newer one and run this again."
  fi
}

# as_root runs a command with root's rights, never asking for a password.
as_root() {
  if [ "$(id -u)" = 0 ]; then "$@"; else sudo -n "$@"; fi
}

# need_packages WHY PACKAGE… installs Debian packages.
need_packages() {
  local why=$1 log="$BARRELHEAD_HOME/log/packages.log"
  shift
  command -v apt-get >/dev/null || give_up "Missing: $why. This machine has no apt-get; install it by the system's own means (on Debian it is called $*) and run this again."
  if ! as_root true 2>/dev/null; then
    give_up "Missing: $why. Installing it needs root. Run once as root: apt-get install -y $* ; then run this again."
  fi
  need_home
  say "installing $why ($*; log in $log)"
  # The lists are only fetched when the install fails without: a fresh image has none, and stale ones name vanished files.
  if ! packages_install "$@" >>"$log" 2>&1; then
    as_root apt-get -q update >>"$log" 2>&1 || true
    packages_install "$@" >>"$log" 2>&1 || {
      tail -n 15 "$log" >&2
      give_up "Installing $why failed; the end of $log is above. Without a network, install $* by hand and run this again."
    }
  fi
}

packages_install() {
  as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300 -o Dpkg::Options::=--force-confold \
    install -y --no-install-recommends "$@" </dev/null
}

# need_command COMMAND WHY PACKAGE… makes sure of one command that Debian packages.
need_command() {
  local command=$1
  shift
  command -v "$command" >/dev/null || need_packages "$@"
}

# need_cc is for the race detector, which links C.
need_cc() { need_command "${CC:-gcc}" "a C compiler" gcc libc6-dev; }

# need_pdftools reads back the documents we print.
need_pdftools() { need_command pdftotext "PDF readers" poppler-utils; }

# go_tool NAME VERSION MODULE builds a pinned command into $TOOLS/bin, from the Go module cache or network.
go_tool() {
  local log="$BARRELHEAD_HOME/log/$1.log"
  need_home
  say "building $1 $2 into $TOOLS (a few minutes, once)"
  if ! GOBIN="$TOOLS/bin" GOFLAGS=-mod=mod CGO_ENABLED=0 go install "$3@v$2" >"$log" 2>&1; then
    tail -n 15 "$log" >&2
    give_up "Building $1 failed; the end of $log is above. It needs the network once; run this again when there is one."
  fi
}

# need_buf puts buf on the PATH: from the npm package where npm is installed (seconds), else built from source (minutes).
need_buf() {
  if [ "$(buf --version 2>/dev/null)" = "$BUF_VERSION" ]; then return; fi
  need_home
  if command -v npm >/dev/null; then
    say "installing buf $BUF_VERSION (npm package) into $TOOLS"
    if npm install --silent --no-fund --no-audit --prefix "$TOOLS/npm" "@bufbuild/buf@$BUF_VERSION" >"$BARRELHEAD_HOME/log/buf.log" 2>&1; then
      ln -sf ../npm/node_modules/.bin/buf "$TOOLS/bin/buf"
      return
    fi
    say "npm could not install it"
  fi
  go_tool buf "$BUF_VERSION" github.com/bufbuild/buf/cmd/buf
}

# need_linter puts golangci-lint on the PATH, always the pinned version: another one finds other things.
need_linter() {
  if [ "$(golangci-lint version --short 2>/dev/null)" = "$LINTER_VERSION" ]; then return; fi
  go_tool golangci-lint "$LINTER_VERSION" github.com/golangci/golangci-lint/v2/cmd/golangci-lint
}

postgres_in() { [ -x "$1/initdb" ] && [ -x "$1/postgres" ]; }

# find_postgres prints the folder of the server's binaries, the newest version first. Debian keeps them off the PATH.
find_postgres() {
  local dir
  for dir in $(printf '%s\n' /usr/lib/postgresql/*/bin | sort -t / -k 5 -n -r) "$(dirname "$(command -v initdb || echo /nonexistent/initdb)")"; do
    if postgres_in "$dir"; then
      printf '%s\n' "$dir"
      return
    fi
  done
  return 1
}

# need_postgres finds PostgreSQL's server binaries or installs them, and exports BARRELHEAD_PG_BIN. It starts no server.
need_postgres() {
  if [ -n "${BARRELHEAD_PG_BIN:-}" ]; then
    postgres_in "$BARRELHEAD_PG_BIN" || give_up "BARRELHEAD_PG_BIN is $BARRELHEAD_PG_BIN, but initdb and postgres are not in it."
    return
  fi
  if ! find_postgres >/dev/null; then install_postgres; fi
  BARRELHEAD_PG_BIN=$(find_postgres) || give_up "PostgreSQL was installed, but its initdb is not under /usr/lib/postgresql. Set BARRELHEAD_PG_BIN to the folder it is in."
  export BARRELHEAD_PG_BIN
}

# install_postgres keeps Debian from making and starting a cluster of its own, for as long as the installation takes.
install_postgres() {
  local off=/etc/postgresql-common/createcluster.d/barrelhead.conf
  if command -v apt-get >/dev/null && as_root true 2>/dev/null; then
    as_root mkdir -p "${off%/*}"
    echo "create_main_cluster = false" | as_root tee "$off" >/dev/null
  fi
  (need_packages "the PostgreSQL server" postgresql) || {
    as_root rm -f "$off" 2>/dev/null || true
    exit 1
  }
  as_root rm -f "$off"
}

# need_chromium finds a browser for the tests of the pages and exports BARRELHEAD_CHROMIUM.
need_chromium() {
  if find_chromium; then return; fi
  if [ "$(. /etc/os-release 2>/dev/null && echo "${ID:-}")" = ubuntu ]; then
    # Ubuntu's package of this name only calls snap, which cannot run in a container.
    if command -v snap >/dev/null && as_root snap install chromium >&2; then PATH="$PATH:/snap/bin"; fi
  else
    need_packages "a browser for the page tests" chromium
  fi
  find_chromium || give_up "No Chromium was found. Install it (on Ubuntu: snap install chromium) or set BARRELHEAD_CHROMIUM to a Chromium or Chrome program, and run this again."
}

find_chromium() {
  local name
  for name in "${BARRELHEAD_CHROMIUM:-chromium}" chromium chromium-browser google-chrome; do
    if BARRELHEAD_CHROMIUM=$(command -v "$name") && "$BARRELHEAD_CHROMIUM" --version >/dev/null 2>&1; then
      export BARRELHEAD_CHROMIUM
      return
    fi
  done
  unset BARRELHEAD_CHROMIUM
  return 1
}
