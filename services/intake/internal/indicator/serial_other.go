//go:build !linux

package indicator

import (
	"context"
	"fmt"
	"runtime"
)

func (l serialLine) open(context.Context) (link, error) {
	return nil, fmt.Errorf("open %s: serial ports are read on Linux only, not on %s; connect the indicator over TCP", l.path, runtime.GOOS)
}
