package paper

import "time"

// portion of a sample and who gets it.
type portion struct{ letter, holder string }

var portions = []portion{{"A", "laboratory"}, {"B", "member"}, {"C", "referee"}}

// sampleLabels draws the labels of the three jars of a sample, each on 2 × 1 inch stock. Nothing on them, and nothing in
// the file, tells one barrel from another but the code: neither name nor date nor variety.
func (p *press) sampleLabels(code string) ([]byte, error) {
	// The file must carry some date, and that of the drawing would point to the ticket of that hour.
	s := newSheet(sampleStock, "Sample labels", time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))
	for _, portion := range portions {
		s.AddPage()
		if err := s.square(code, 1.2, 1.7, 22); err != nil {
			return nil, err
		}
		s.SetXY(24, 2)
		s.SetFont(sans, "B", 34)
		s.cell(14, 13, portion.letter, "L")
		s.SetXY(24, 14.5)
		s.SetFont(mono, "B", 11.5)
		s.cell(26, 5, code, "L")
		s.SetXY(24, 19.2)
		s.SetFont(sans, "", 7.5)
		s.cell(26, 3.5, portion.holder, "L")
	}
	return s.bytes()
}
