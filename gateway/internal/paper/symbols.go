package paper

import (
	"fmt"
	"image/color"

	"github.com/boombuler/barcode/code128"
	"github.com/skip2/go-qrcode"
)

// bars draws a Code 128 symbol of modules that wide. It is drawn as lines, not as a picture, so that a printer of any
// resolution makes straight edges. The caller leaves ten modules of quiet zone at either side.
func (s *sheet) bars(content string, x, y, module, height float64) error {
	symbol, err := code128.Encode(content)
	if err != nil {
		return fmt.Errorf("encode %q as bars: %w", content, err)
	}
	count := symbol.Bounds().Dx()
	for i := 0; i < count; {
		run := 0
		for i+run < count && symbol.At(i+run, 0) == color.Black {
			run++
		}
		if run > 0 {
			s.Rect(x+float64(i)*module, y, float64(run)*module, height, "F")
		}
		i += max(run, 1)
	}
	return nil
}

// barsWidth is how many modules bars takes without quiet zones.
func barsWidth(content string) (int, error) {
	symbol, err := code128.Encode(content)
	if err != nil {
		return 0, fmt.Errorf("encode %q as bars: %w", content, err)
	}
	return symbol.Bounds().Dx(), nil
}

// square draws a QR symbol with its quiet zone inside a square of that side.
func (s *sheet) square(content string, x, y, side float64) error {
	code, err := qrcode.New(content, qrcode.Medium)
	if err != nil {
		return fmt.Errorf("encode %q as QR: %w", content, err)
	}
	bitmap := code.Bitmap()
	module := side / float64(len(bitmap))
	for row, cells := range bitmap {
		for i := 0; i < len(cells); {
			run := 0
			for i+run < len(cells) && cells[i+run] {
				run++
			}
			if run > 0 {
				s.Rect(x+float64(i)*module, y+float64(row)*module, float64(run)*module, module, "F")
			}
			i += max(run, 1)
		}
	}
	return nil
}
