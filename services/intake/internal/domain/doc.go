// Package domain holds the rules of receiving honey: which scale may be believed, which weight is plausible, how a ticket
// lives and who may undo it. It knows no database and no network.
//
// A refusal is a *Refusal, whose reason is a name of barrelhead.error.v1.Reason and whose text is for the person at the
// scale: what is wrong, with the number, and what to do.
package domain
