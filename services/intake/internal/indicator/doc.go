// Package indicator reads the weight a scale's indicator sends continuously as lines of text, over TCP or a serial port.
//
// The form of a line is a setting, so a new kind of indicator needs no code. From bytes to an answer: framer cuts lines,
// grammar reads one line, tracker says what the lines of late amount to, Reader keeps the connection and the newest
// Indication. Nothing is averaged, converted or guessed: what cannot be read without doubt cannot be captured.
package indicator
