package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestAScriptIsPlayed(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	script, link := filepath.Join(dir, "barrel"), filepath.Join(dir, "scale")
	require.NoError(t, os.WriteFile(script, []byte("put 684.5\nsettle\nclear\nsettle\n"), 0o600))
	ctx, cancel := context.WithCancel(t.Context())
	var out bytes.Buffer
	err := run(ctx, []string{"-tcp", "127.0.0.1:0", "-port", link, "-every", "1ms", "-script", script}, strings.NewReader(""), &out)
	require.NoError(t, err)
	require.Contains(t, out.String(), "tcp://127.0.0.1:")
	require.Contains(t, out.String(), "serial://"+link)
	cancel()
}

// said is a writer that reports the first thing written.
type said chan struct{}

func (s said) Write(p []byte) (int, error) {
	select {
	case s <- struct{}{}:
	default:
	}
	return len(p), nil
}

func TestItStopsWhenTold(t *testing.T) {
	t.Parallel()
	for name, typed := range map[string]func() io.Reader{
		"while somebody may type": func() io.Reader {
			keyboard, typist := io.Pipe()
			t.Cleanup(func() { _ = typist.Close() })
			return keyboard
		},
		"when nobody can": func() io.Reader { return strings.NewReader("") },
	} {
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		up := make(said, 1)
		go func() { ended <- run(ctx, []string{"-tcp", "127.0.0.1:0"}, typed(), up) }()
		<-up
		cancel()
		select {
		case err := <-ended:
			require.NoError(t, err, name)
		case <-time.After(20 * time.Second):
			require.Fail(t, "it goes on", name)
		}
	}
}

func TestWrongArguments(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{
		{"-division", "0"},
		{"-division", "half"},
		{"-tcp", "nowhere"},
		{"-tcp", "", "-script", "/no/such/script"},
		{"-tcp", "", "-port", "/no/such/folder/scale"},
	} {
		require.Error(t, run(t.Context(), args, strings.NewReader(""), &bytes.Buffer{}), args)
	}
	require.ErrorContains(t, run(t.Context(), []string{"-tcp", ""}, strings.NewReader("lift"), &bytes.Buffer{}), "is no command")
}
