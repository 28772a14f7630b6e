package site

import (
	"strings"
)

// input is one field of a form as the template draws it.
type input struct {
	Form                    *Form
	Name, Label, Hint       string
	Kind, Mode, Pattern     string
	Required, Focus, Scan   bool
	Unit, Complete, Example string
	// stay keeps the focus where the next scan goes, whatever is asked beside it.
	stay bool
}

// newInput reads attributes written in a template as "key=value" or a bare "key".
func newInput(f *Form, name, label string, attributes ...string) input {
	in := input{Form: f, Name: name, Label: label, Kind: "text"}
	for _, attribute := range attributes {
		key, value, _ := strings.Cut(attribute, "=")
		switch key {
		case "required":
			in.Required = true
		case "focus":
			in.Focus = true
		case "scan":
			in.Scan = true
		case "stay":
			in.stay = true
		case "decimal":
			// A text field with a number pad: type=number swallows what it cannot read and spins under a wet glove.
			// Commas pass: the browser would only say that it wants another format, the page says what.
			in.Mode, in.Pattern = "decimal", `-?[0-9]+([.,][0-9]+)*`
		case "money":
			// Thousands are parted as amounts are printed; a comma elsewhere could mean two things.
			in.Mode, in.Pattern = "decimal", `-?[$]?([0-9]{1,3}(,[0-9]{3})+|[0-9]+)([.][0-9]+)?`
		case "whole":
			in.Mode, in.Pattern = "numeric", `[0-9]+`
		case "kind":
			in.Kind = value
		case "hint":
			in.Hint = value
		case "unit":
			in.Unit = value
		case "complete":
			in.Complete = value
		case "example":
			in.Example = value
		}
	}
	// Refused, the form stands where it is to be put right.
	if len(f.faults) > 0 && !in.stay {
		in.Focus = in.Fault() != ""
	}
	return in
}

// Value is what was typed.
func (i input) Value() string { return i.Form.Value(i.Name) }

// Fault is what is wrong with it.
func (i input) Fault() string { return i.Form.Fault(i.Name) }

// Option is one choice.
type Option struct {
	Value, Label string
	Chosen       bool
}

// choice is a field with a few answers.
type choice struct {
	input
	Options []Option
}

// newPick is a row of large buttons, one of which is pressed.
func newPick(f *Form, name, label string, options []Option) choice {
	c := choice{input: input{Form: f, Name: name, Label: label}}
	for _, o := range options {
		o.Chosen = o.Value == f.Value(name)
		c.Options = append(c.Options, o)
	}
	return c
}

// NewOptions takes values and labels in turn.
func NewOptions(pairs ...string) []Option {
	var options []Option
	for i := 0; i+1 < len(pairs); i += 2 {
		options = append(options, Option{Value: pairs[i], Label: pairs[i+1]})
	}
	return options
}

// Labels writes a value of the wire as the choice that stands for it.
func Labels(options []Option) func(any) string {
	said := map[string]string{}
	for _, o := range options {
		said[words(o.Value)] = o.Label
	}
	return func(value any) string {
		text := words(value)
		if label, known := said[text]; known {
			return label
		}
		return text
	}
}
