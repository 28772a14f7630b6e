package domain

import (
	"embed"
	"encoding/csv"
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

//go:embed standards
var standardFiles embed.FS

// Refractive indices are counted in 10⁻⁷, fine enough that the correction for a hundredth of a degree is exact.
const indexDigits = 7

// point is one row of a printed table; at rises from row to row.
type point struct {
	at    int64
	value int64
}

// readTable loads the first two columns of an embedded CSV file. A file that cannot be read is a fault of the build.
func readTable(name string, atDigits, valueDigits int) []point {
	file, err := standardFiles.Open("standards/" + name)
	if err != nil {
		panic(fmt.Errorf("open %s: %w", name, err))
	}
	lines, err := csv.NewReader(file).ReadAll()
	if err != nil {
		panic(fmt.Errorf("read %s: %w", name, err))
	}
	points := make([]point, 0, len(lines))
	for _, line := range lines[1:] {
		points = append(points, point{mustFixed(line[0], atDigits), mustFixed(line[1], valueDigits)})
	}
	for i := 1; i < len(points); i++ {
		if points[i].at <= points[i-1].at {
			panic(fmt.Errorf("%s: row %d does not rise", name, i+1))
		}
	}
	return points
}

func mustFixed(s string, digits int) int64 {
	v, err := quantity.ParseFixed(s, digits)
	if err != nil {
		panic(fmt.Errorf("figure in a table: %w", err))
	}
	return v
}

// interpolate draws straight lines between the rows, exactly, and cuts the result down to a whole count. The caller has
// checked that x lies in the table. Values are never negative.
func interpolate(table []point, x int64) int64 {
	hi := 1
	for table[hi].at < x {
		hi++
	}
	a, b := table[hi-1], table[hi]
	span := b.at - a.at
	return (a.value*(b.at-x) + b.value*(x-a.at)) / span
}
