//go:build !linux

package scalesim

import (
	"errors"
	"os"
)

// OpenPort makes pseudo-terminals on Linux only.
func OpenPort(string) (*os.File, error) {
	return nil, errors.New("pseudo-terminals are made on Linux only: use TCP")
}
