// Package browsertest finds the real browser that page tests drive. It is for tests alone.
package browsertest

import (
	"cmp"
	"fmt"
	"os"
	"os/exec"

	"github.com/chromedp/chromedp"
)

// Options start the browser deploy/test found, or the one on the path; it is an error without one, since nothing is skipped.
func Options() ([]chromedp.ExecAllocatorOption, error) {
	program, err := exec.LookPath(cmp.Or(os.Getenv("BARRELHEAD_CHROMIUM"), "chromium"))
	if err != nil {
		return nil, fmt.Errorf("these tests need a real browser (apt-get install chromium): %w", err)
	}
	return append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("hide-scrollbars", true),
	), nil
}
