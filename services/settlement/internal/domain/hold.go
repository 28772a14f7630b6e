package domain

// HoldPolicy says which holds of the warehouse keep an advance waiting, by their code. A code it does not list blocks: a
// hold of a new kind should not be paid over by accident.
type HoldPolicy map[string]bool

// DefaultHoldPolicy lets papers and customers not delay a member's money; everything that questions weight, quality or
// safety does.
func DefaultHoldPolicy() HoldPolicy {
	return HoldPolicy{
		"QUALITY": true, "RESIDUE": true, "AUTHENTICITY": true, "FERMENTATION": true, "SCALE": true, "RECALL": true,
		"DOCUMENTS": false, "CUSTOMER": false,
	}
}

// Blocks reports whether a hold of this code keeps an advance waiting.
func (p HoldPolicy) Blocks(code string) bool {
	blocks, listed := p[code]
	return blocks || !listed
}

// Blocking is the first of the open holds that blocks, or "".
func (p HoldPolicy) Blocking(codes []string) string {
	for _, c := range codes {
		if p.Blocks(c) {
			return c
		}
	}
	return ""
}

var holdWords = map[string]string{
	"QUALITY":      "while a question of quality is answered",
	"RESIDUE":      "while it is tested for residues",
	"AUTHENTICITY": "while its authenticity is tested",
	"FERMENTATION": "while signs of fermentation are looked into",
	"DOCUMENTS":    "until its papers arrive",
	"CUSTOMER":     "for a customer",
	"SCALE":        "while the scale it was weighed on is under review",
	"RECALL":       "because of a recall",
}

// holdInWords is what a member reads; it says nothing about the outcome, which is open.
func holdInWords(code string) string {
	words, known := holdWords[code]
	if !known {
		words = "for the reason " + lower(code)
	}
	return "on hold " + words + "; the advance is priced when the hold is released"
}
