# Shared by the scripts of deploy/: where tools live and how a missing one is made. Source it from the repository root.
BARRELHEAD_HOME="${BARRELHEAD_HOME:-$PWD/.barrelhead}"
TOOLS="$BARRELHEAD_HOME/tools"
export PATH="$TOOLS/bin:$PATH"
BUF_VERSION=1.75.0

# need_buf puts buf on the PATH: from the npm package where npm is installed (seconds), else built from source (minutes).
need_buf() {
  if [ "$(buf --version 2>/dev/null)" = "$BUF_VERSION" ]; then return; fi
  mkdir -p "$TOOLS/bin"
  if command -v npm >/dev/null; then
    echo "installing buf $BUF_VERSION (npm package) into $TOOLS"
    npm install --silent --no-fund --no-audit --prefix "$TOOLS/npm" "@bufbuild/buf@$BUF_VERSION"
    ln -sf "$TOOLS/npm/node_modules/.bin/buf" "$TOOLS/bin/buf"
  else
    echo "building buf $BUF_VERSION into $TOOLS (a few minutes, once)"
    GOBIN="$TOOLS/bin" GOFLAGS=-mod=mod go install "github.com/bufbuild/buf/cmd/buf@v$BUF_VERSION"
  fi
}
