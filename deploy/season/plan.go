package season

import (
	"fmt"
	"math/rand/v2"
)

// Size of a season.
type Size struct {
	Members int
	Barrels int
}

// Demo is the season of deploy/demo.
var Demo = Size{Members: 44, Barrels: 1_200}

// Season is everything that will happen, decided beforehand from the seed alone.
type Season struct {
	CropYear   int32
	Members    []Member
	Deliveries []Delivery
	// Estate is the number of a member who died, with who inherits; empty in a small season.
	Estate string
	Heirs  []Share
	// Lien is the number of a member a lender has a right in the money of; empty in a small season.
	Lien string
}

// Share is one owner's part of a delivery in percent, e.g. "33.3333".
type Share struct{ Member, Percent string }

// Member of the invented cooperative.
type Member struct {
	Number string
	Name   string
}

// Delivery is one load.
type Delivery struct {
	// Index makes request ids distinct.
	Index    int
	Member   string
	Hauler   string
	Declared bool
	Barrels  []Barrel
	// Owners are set where the load is shared; the shares sum to 100.
	Owners []Share
	// WrongMember is set where the clerk closes the ticket under another number and the office has to correct it.
	WrongMember string
}

// Barrel is what will stand on the scale and what the bench will read, in the smallest step of each instrument.
type Barrel struct {
	Tag         string
	Variety     string
	GrossTenths int64
	TareTenths  int64
	Reason      string
	Refractive  string // refractive index; empty where moisture is read directly
	Celsius     string
	Moisture    string // direct percent
	Pfund       string
	Flavor      int
	Defects     int
	// Retest is a second refractive index after the certificate; empty for almost all.
	Retest string
	// SecondLook is the water another technician reads when the member appeals, in percent; empty for almost all.
	SecondLook string
	// HeldFor is the reason of a hold placed and later released; empty for almost all.
	HeldFor string
}

// NetTenths is the net weight in tenths.
func (b Barrel) NetTenths() int64 { return b.GrossTenths - b.TareTenths }

// variety is what a floral source is like in the invented valley: colour in mm Pfund and how often it is brought.
type variety struct {
	name   string
	mm, sd float64
	share  int
}

var varieties = []variety{
	{"clover", 22, 8, 34},
	{"basswood", 30, 8, 12},
	{"knapweed", 38, 9, 14},
	{"wildflower", 56, 14, 18},
	{"goldenrod", 78, 16, 14},
	{"buckwheat", 122, 10, 8},
}

var givenNames = []string{"Alder", "Brisa", "Corin", "Delpha", "Edric", "Fenna", "Garrick", "Hesper", "Idris", "Junia", "Kester"}

var familyNames = []string{"Thornquill", "Amberly-Voss", "Hollowell-Reed", "Quenby"}

// New decides a season. The same size and crop year give the same season.
func New(size Size, cropYear int32) Season {
	// A fixed seed is the point: every run of the demo must print the same totals.
	rng := rand.New(rand.NewPCG(20_260_914, 600)) //nolint:gosec // reproducible by design, nothing secret depends on it
	s := Season{CropYear: cropYear}
	for i := range size.Members {
		s.Members = append(s.Members, Member{
			Number: fmt.Sprintf("M-%04d", i+1),
			Name:   givenNames[i%len(givenNames)] + " " + familyNames[i/len(givenNames)%len(familyNames)],
		})
	}
	for made := 0; made < size.Barrels; {
		d := newDelivery(rng, s.Members, len(s.Deliveries))
		d.Barrels = d.Barrels[:min(len(d.Barrels), size.Barrels-made)]
		for i := range d.Barrels {
			d.Barrels[i].Tag = fmt.Sprintf("FC-%05d", 10_001+made+i)
		}
		made += len(d.Barrels)
		s.Deliveries = append(s.Deliveries, d)
	}
	s.addSpecialCases()
	return s
}

// newDelivery draws a load: most members bring 2 to 12 barrels on a trailer, the few large ones a flatbed of 40 to 63.
// Sizes and spreads are common practice, no source.
func newDelivery(rng *rand.Rand, members []Member, index int) Delivery {
	member := index % len(members)
	barrels := 2 + rng.IntN(11)
	if member%15 == 14 {
		barrels = 40 + rng.IntN(24)
	}
	d := Delivery{Index: index, Member: members[member].Number, Declared: true}
	if index%5 == 4 {
		d.Hauler = "Valley Carriers"
	}
	v := pickVariety(rng)
	for range barrels {
		if rng.IntN(6) == 0 {
			v = pickVariety(rng)
		}
		d.Barrels = append(d.Barrels, newBarrel(rng, v))
	}
	return d
}

func pickVariety(rng *rand.Rand) variety {
	n := rng.IntN(100)
	for _, v := range varieties {
		if n -= v.share; n < 0 {
			return v
		}
	}
	return varieties[0]
}

func newBarrel(rng *rand.Rand, v variety) Barrel {
	tare := clamp(rng.NormFloat64()*3+43, 38, 54)
	net := clamp(rng.NormFloat64()*12+642, 570, 690)
	halves := func(x float64) int64 { return int64(2*x) * 5 } // the scale shows half pounds
	b := Barrel{
		Variety:     v.name,
		TareTenths:  halves(tare),
		GrossTenths: halves(tare) + halves(net),
		Pfund:       fmt.Sprintf("%.0f", clamp(rng.NormFloat64()*v.sd+v.mm, 2, 148)),
		Flavor:      50 - min(rng.IntN(6)*rng.IntN(3), 13),
		Defects:     40 - min(rng.IntN(4)*rng.IntN(3), 9),
	}
	moisture := clamp(rng.NormFloat64()*0.9+17.2, 14.2, 21.5)
	if rng.IntN(8) == 0 {
		b.Moisture = fmt.Sprintf("%.1f", moisture)
		return b
	}
	celsius := 19 + float64(rng.IntN(51))/10
	index := 1.4915 + (18.0-moisture)*0.0025 - (celsius-20)*0.00023
	b.Refractive, b.Celsius = fmt.Sprintf("%.4f", index), fmt.Sprintf("%.1f", celsius)
	return b
}

func clamp(x, low, high float64) float64 { return max(low, min(high, x)) }

// addSpecialCases puts in what every season has once: they are named where they are worked.
func (s *Season) addSpecialCases() {
	if len(s.Deliveries) < 8 {
		return
	}
	b := func(delivery, barrel int) *Barrel {
		return &s.Deliveries[delivery].Barrels[barrel]
	}
	partial := b(0, 0)
	partial.GrossTenths, partial.Reason = partial.TareTenths+2_415, "last drum of the crop, not full"
	shared := b(1, 0)
	shared.Tag = b(0, 1).Tag
	atBase, overBase := b(2, 0), b(2, 1)
	atBase.Moisture, atBase.Refractive, atBase.Celsius = "18.6", "", ""
	overBase.Moisture, overBase.Refractive, overBase.Celsius = "18.7", "", ""
	retested := b(3, 0)
	retested.Refractive, retested.Celsius, retested.Moisture, retested.Retest = "1.4870", "20.0", "", "1.4892"
	won, lost := b(3, 1), b(6, 1)
	won.Moisture, won.Refractive, won.Celsius, won.SecondLook = "19.4", "", "", "18.9"
	lost.Moisture, lost.Refractive, lost.Celsius, lost.SecondLook = "19.4", "", "", "19.3"
	s.Deliveries[4].WrongMember = s.Members[(4+1)%len(s.Members)].Number
	s.Deliveries[5].Declared = false
	b(6, 0).HeldFor = "residue screen, routine for one load in twenty"
	light := b(7, 0)
	light.GrossTenths, light.Reason = light.TareTenths+5_500, "drum dented, less honey than usual"
	s.addOwners()
}

// addOwners puts in what concerns whose the money is: a load of two partners, an estate and a lender's notice.
func (s *Season) addOwners() {
	if len(s.Members) < 3 {
		return
	}
	split := &s.Deliveries[7]
	partner := s.Members[(7+1)%len(s.Members)].Number
	split.Owners = []Share{{split.Member, "60"}, {partner, "40"}}
	s.Lien = s.Deliveries[2].Member
	if len(s.Members) < 12 {
		return
	}
	// The deceased's own number stays the first owner: what it still brings is its crop.
	s.Estate = s.Members[9].Number
	s.Heirs = []Share{{s.Estate, "33.3334"}, {s.Members[10].Number, "33.3333"}, {s.Members[11].Number, "33.3333"}}
}

// NetTenths is the net weight of a variety, in tenths.
func (s *Season) NetTenths(variety string) int64 {
	var sum int64
	for _, d := range s.Deliveries {
		for _, b := range d.Barrels {
			if b.Variety == variety {
				sum += b.NetTenths()
			}
		}
	}
	return sum
}
