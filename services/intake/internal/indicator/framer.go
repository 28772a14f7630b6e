package indicator

import "bytes"

// framer cuts a stream of bytes into lines. It holds one line at most, whatever is sent.
type framer struct {
	end     []byte
	longest int
	buf     []byte
	// lost is set while the beginning of the line is not there: what follows must not be taken for a whole one.
	lost bool
}

// newFramer joins a stream that may be in the middle of a line.
func newFramer(s Settings) *framer {
	return &framer{
		end: []byte(s.Terminator), longest: s.LongestLine, buf: make([]byte, 0, s.LongestLine+len(s.Terminator)+1), lost: true,
	}
}

// write gives whole lines to line, which must not keep them, and calls tooLong whenever that many bytes held no end.
func (f *framer) write(p []byte, line func([]byte), tooLong func([]byte)) {
	for _, b := range p {
		f.buf = append(f.buf, b)
		switch {
		case bytes.HasSuffix(f.buf, f.end):
			if !f.lost {
				line(f.buf[:len(f.buf)-len(f.end)])
			}
			f.lost, f.buf = false, f.buf[:0]
		case len(f.buf) >= f.longest+len(f.end):
			tooLong(f.buf)
			f.lost = true
			// The end may have begun.
			keep := len(f.end) - 1
			f.buf = f.buf[:copy(f.buf, f.buf[len(f.buf)-keep:])]
		}
	}
}
