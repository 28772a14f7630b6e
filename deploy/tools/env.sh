# shellcheck shell=bash
# Shared by the scripts of deploy/: which tools are needed, where they live and how a missing one is made. Source it from
# the repository root, in bash. need_go comes first. Every need_… function returns at once when the tool is there, says
# what it installs when it is not, asks for nothing, and ends the script with what to do where it cannot.
BARRELHEAD_HOME="${BARRELHEAD_HOME:-$PWD/.barrelhead}"
TOOLS="$BARRELHEAD_HOME/tools"
export BARRELHEAD_HOME PATH="$TOOLS/bin:$PATH"
# Root in another user's checkout, as on many build servers: git, and go through it, would refuse to look at the history.
git_settings=${GIT_CONFIG_COUNT:-0}
export "GIT_CONFIG_KEY_$git_settings=safe.directory" "GIT_CONFIG_VALUE_$git_settings=$PWD" "GIT_CONFIG_COUNT=$((git_settings + 1))"
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
  # Fetching modules needs the certificates of the network, which a bare Debian lacks.
  if command -v apt-get >/dev/null && [ ! -e /etc/ssl/certs/ca-certificates.crt ]; then install_packages "certificates for downloads" ca-certificates; fi
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

# What each system tool is for and the Debian packages that hold it. find_TOOL says whether the tool is there.
what_is() {
  case $1 in
    cc) echo "a C compiler for the race detector" ;;
    postgres) echo "the PostgreSQL server" ;;
    pdftools) echo "PDF readers" ;;
    barcodes) echo "a barcode reader" ;;
    ledger) echo "a plain-text accounting checker" ;;
    solvers) echo "general integer programming solvers" ;;
    signatures) echo "a checker of signatures" ;;
    chromium) echo "a browser for the page tests" ;;
  esac
}

packages_of() {
  case $1 in
    cc) echo "gcc libc6-dev" ;;
    postgres) echo "postgresql" ;;
    pdftools) echo "poppler-utils" ;;
    barcodes) echo "zbar-tools" ;;
    ledger) echo "hledger" ;;
    solvers) echo "glpk-utils coinor-cbc lp-solve" ;;
    signatures) echo "openssl" ;;
    chromium) echo "chromium" ;;
  esac
}

find_cc() { command -v "${CC:-gcc}" >/dev/null; }
find_pdftools() { command -v pdftotext >/dev/null && command -v pdftoppm >/dev/null && command -v pdfinfo >/dev/null; }
find_barcodes() { command -v zbarimg >/dev/null; }
find_ledger() { command -v hledger >/dev/null; }
find_solvers() { command -v glpsol >/dev/null && command -v cbc >/dev/null && command -v lp_solve >/dev/null; }
find_signatures() { command -v openssl >/dev/null; }

postgres_in() { [ -x "$1/initdb" ] && [ -x "$1/postgres" ]; }

# find_postgres exports BARRELHEAD_PG_BIN, the newest server's folder unless it was given. Debian keeps them off the PATH.
find_postgres() {
  local dir
  if [ -n "${BARRELHEAD_PG_BIN:-}" ]; then
    postgres_in "$BARRELHEAD_PG_BIN" || give_up "BARRELHEAD_PG_BIN is $BARRELHEAD_PG_BIN, but initdb and postgres are not in it."
    return
  fi
  for dir in $(printf '%s\n' /usr/lib/postgresql/*/bin | sort -t / -k 5 -n -r) "$(dirname "$(command -v initdb || echo /nonexistent/initdb)")"; do
    if postgres_in "$dir"; then
      export BARRELHEAD_PG_BIN="$dir"
      return
    fi
  done
  return 1
}

# find_chromium exports BARRELHEAD_CHROMIUM, the browser's program unless it was given.
find_chromium() {
  local name
  if [ -n "${BARRELHEAD_CHROMIUM:-}" ]; then
    command -v "$BARRELHEAD_CHROMIUM" >/dev/null || give_up "BARRELHEAD_CHROMIUM is $BARRELHEAD_CHROMIUM, which is no program."
    return
  fi
  for name in chromium chromium-browser google-chrome /snap/bin/chromium; do
    # Ubuntu's chromium-browser without snap is a script that only says so, hence the call.
    if command -v "$name" >/dev/null && "$name" --version >/dev/null 2>&1; then
      BARRELHEAD_CHROMIUM=$(command -v "$name")
      export BARRELHEAD_CHROMIUM
      return
    fi
  done
  return 1
}

# need_system TOOL… makes sure of system tools, all missing ones in one installation.
need_system() {
  local tool missing=() packages=() what=""
  for tool in "$@"; do
    if "find_$tool"; then continue; fi
    # Ubuntu's package of that name only calls snap, which cannot run in a container.
    if [ "$tool" = chromium ] && is_ubuntu; then snap_chromium; continue; fi
    missing+=("$tool")
    what="$what${what:+, }$(what_is "$tool")"
    read -r -a names <<<"$(packages_of "$tool")"
    packages+=("${names[@]}")
  done
  if [ "${#missing[@]}" = 0 ]; then return; fi
  install_packages "$what" "${packages[@]}"
  for tool in "${missing[@]}"; do
    "find_$tool" || give_up "$(packages_of "$tool") was installed, but $(what_is "$tool") is still not found."
  done
}

need_postgres() { need_system postgres; }

# roomy_heap lets the collector wait for five times what is in use, some 300 MB for the whole suite: at Go's own setting a
# tenth of the processor goes to collecting.
roomy_heap() { export GOGC="${GOGC:-400}"; }

is_ubuntu() { [ "$(. /etc/os-release 2>/dev/null && echo "${ID:-}")" = ubuntu ]; }

snap_chromium() {
  if command -v snap >/dev/null && as_root true 2>/dev/null; then
    say "installing a browser for the page tests (snap chromium)"
    as_root snap install chromium >&2 || true
  fi
  find_chromium || give_up "Missing: a browser for the page tests, which Ubuntu has only as a snap. Run: snap install chromium ; or set BARRELHEAD_CHROMIUM to a Chromium or Chrome program, and run this again."
}

# install_packages WHAT PACKAGE…
install_packages() {
  local what=$1 log="$BARRELHEAD_HOME/log/packages.log"
  shift
  command -v apt-get >/dev/null || give_up "Missing: $what. This machine has no apt-get: install it by the system's own means (Debian calls it $*) and run this again."
  as_root true 2>/dev/null || give_up "Missing: $what. Installing it needs root. Run once as root: apt-get install -y $* ; then run this again."
  need_home
  say "installing $what ($*; log in $log)"
  cluster_by_package off
  # The lists are only fetched when the install fails without: a fresh image has none, and stale ones name vanished files.
  if ! apt_install "$@" >>"$log" 2>&1; then
    as_root apt-get -q update >>"$log" 2>&1 || true
    if ! apt_install "$@" >>"$log" 2>&1; then
      cluster_by_package on
      tail -n 15 "$log" >&2
      give_up "Installing failed; the end of $log is above. Without a network, install $* by hand and run this again."
    fi
  fi
  cluster_by_package on
}

apt_install() {
  as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300 -o Dpkg::Options::=--force-confold \
    install -y --no-install-recommends "$@" </dev/null
}

# cluster_by_package off keeps Debian from making and starting a cluster of its own when its PostgreSQL is installed; we
# only want the programs. It is put back afterwards, for whoever installs a server there on purpose.
cluster_by_package() {
  local file=/etc/postgresql-common/createcluster.d/barrelhead.conf
  case $1 in
    off)
      as_root mkdir -p "${file%/*}"
      echo "create_main_cluster = false" | as_root tee "$file" >/dev/null
      ;;
    on) as_root rm -f "$file" ;;
  esac
}

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
