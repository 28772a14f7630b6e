package domain

import (
	"strconv"
	"time"
)

// VetPaper holds a weight from the paper book to the day it was written: said is when the paper says it was weighed, zero
// if it was not sent.
func (w Weighing) VetPaper(said, now time.Time, zone *time.Location) error {
	if w.Paper == "" {
		return nil
	}
	if !w.Manual {
		return invalid("paper_number", "a weight from the paper book was typed by hand: say so in manual")
	}
	if said.IsZero() {
		return invalid("weigh_time", "the time written in the paper book is missing")
	}
	today := now.In(zone).Format(time.DateOnly)
	if said.In(zone).Format(time.DateOnly) != today {
		return outOfRange("weigh_time", today, today, "the paper book says %s, but a paper weight is entered the same day (%s): show it to "+
			"the office and the board", said.In(zone).Format("2006-01-02 15:04"), today)
	}
	return nil
}

// MayConfirmPaper wants a weight from the paper book, and somebody who did not enter it.
func (b Barrel) MayConfirmPaper(who string) error {
	switch {
	case b.Paper == "":
		return stateForbids(b.Name(), "NOT_PAPER", "the weight of drum %s is not from the paper book", b.DrumTag)
	case b.PaperConfirmer != "":
		return stateForbids(b.Name(), "CONFIRMED", "line %s of the paper book was confirmed by %s already", b.Paper, b.PaperConfirmer)
	case who == b.Weigher:
		return samePerson(who, "you entered line %s of the paper book: a second person has to compare it", b.Paper)
	}
	return nil
}

func (t Ticket) paperConfirmed() error {
	open, first := 0, ""
	for _, b := range t.Barrels {
		if b.Paper != "" && b.PaperConfirmer == "" {
			open++
			if first == "" {
				first = b.Paper
			}
		}
	}
	if open == 0 {
		return nil
	}
	r := t.stateForbids("%d weights from the paper book were not compared by a second person (first: line %s): have them confirmed, then close",
		open, first)
	r.metadata["unconfirmed"] = strconv.Itoa(open)
	return r
}
