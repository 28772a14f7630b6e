package config

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"reflect"
	"slices"
	"strings"
	"time"
)

// Fault is one thing wrong with a settings file.
type Fault struct {
	// Path of the setting, e.g. "tls.key".
	Path string
	// Message continues the path: "is missing".
	Message string
}

// Error lists every fault of a settings file at once.
type Error struct {
	File   string
	Faults []Fault
}

func (e *Error) Error() string {
	lines := make([]string, 0, len(e.Faults))
	for _, f := range e.Faults {
		lines = append(lines, fmt.Sprintf("%s %s", f.Path, f.Message))
	}
	return fmt.Sprintf("settings in %s: %s", e.File, strings.Join(lines, "; "))
}

// Checker is implemented by settings that know more about themselves than their types say. Paths are relative.
type Checker interface{ Check() []Fault }

// Duration is written as "2s" or "1h30m".
type Duration time.Duration

// UnmarshalText reads the written form.
func (d *Duration) UnmarshalText(text []byte) error {
	parsed, err := time.ParseDuration(string(text))
	if err != nil {
		return errors.New("must be a duration such as 2s")
	}
	*d = Duration(parsed)
	return nil
}

// MarshalText writes it.
func (d Duration) MarshalText() ([]byte, error) { return []byte(time.Duration(d).String()), nil }

// Load reads the JSON file at path into the struct into points to. Settings that are absent keep the value they have.
// Unknown names, wrong types and everything Check finds are reported together in one *Error.
func Load(path string, into any) error {
	content, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("read settings: %w", err)
	}
	target := reflect.ValueOf(into)
	if target.Kind() != reflect.Pointer || target.Elem().Kind() != reflect.Struct {
		return fmt.Errorf("read settings: cannot fill a %T", into)
	}
	decoder := json.NewDecoder(bytes.NewReader(content))
	var whole json.RawMessage
	if err := decoder.Decode(&whole); err != nil {
		return fmt.Errorf("read settings in %s: %w", path, err)
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("read settings in %s: something follows the closing brace", path)
	}
	faults := fill(whole, target.Elem(), "")
	faults = append(faults, check(target.Elem(), "")...)
	if len(faults) > 0 {
		slices.SortStableFunc(faults, func(a, b Fault) int { return strings.Compare(a.Path, b.Path) })
		return &Error{File: path, Faults: slices.Compact(faults)}
	}
	return nil
}

// fill decodes field by field, because encoding/json stops at the first unknown name and the first wrong type.
func fill(raw json.RawMessage, into reflect.Value, path string) []Fault {
	if into.Kind() != reflect.Struct || reflect.PointerTo(into.Type()).Implements(textUnmarshaler) {
		return fillLeaf(raw, into, path)
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(raw, &members); err != nil || members == nil {
		return []Fault{{orRoot(path), "must be an object in braces"}}
	}
	known := fieldsOf(into)
	var faults []Fault
	for name, value := range members {
		field, ok := known[name]
		if !ok {
			faults = append(faults, Fault{join(path, name), "is not a setting"})
			continue
		}
		faults = append(faults, fill(value, field, join(path, name))...)
	}
	return faults
}

func fillLeaf(raw json.RawMessage, into reflect.Value, path string) []Fault {
	decoder := json.NewDecoder(bytes.NewReader(raw))
	decoder.DisallowUnknownFields()
	err := decoder.Decode(into.Addr().Interface())
	if wrong, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		return []Fault{{orRoot(path), fmt.Sprintf("is a %s, must be %s", wrong.Value, inWords(wrong.Type))}}
	}
	if err != nil {
		return []Fault{{orRoot(path), err.Error()}}
	}
	return nil
}

func inWords(t reflect.Type) string {
	switch t.Kind() {
	case reflect.String:
		return "text in quotes"
	case reflect.Bool:
		return "true or false"
	case reflect.Int, reflect.Int32, reflect.Uint16:
		return "a whole number"
	case reflect.Int64:
		if t == reflect.TypeFor[Duration]() {
			return `a duration such as "2s"`
		}
		return "a whole number"
	default:
		return t.String()
	}
}

var textUnmarshaler = reflect.TypeFor[interface{ UnmarshalText([]byte) error }]()

// fieldsOf maps the names in the file to fields; those of an embedded struct count as the outer one's.
func fieldsOf(s reflect.Value) map[string]reflect.Value {
	fields := map[string]reflect.Value{}
	for i := range s.NumField() {
		described := s.Type().Field(i)
		name, _, _ := strings.Cut(described.Tag.Get("json"), ",")
		switch {
		case described.Anonymous && name == "" && described.Type.Kind() == reflect.Struct:
			for inner, value := range fieldsOf(s.Field(i)) {
				fields[inner] = value
			}
		case !described.IsExported() || name == "-":
		case name == "":
			fields[described.Name] = s.Field(i)
		default:
			fields[name] = s.Field(i)
		}
	}
	return fields
}

// check asks every struct in the tree, an embedded one under the path of the outer. An outer struct that merely inherits
// the Check of an embedded one repeats its faults, which Load drops.
func check(s reflect.Value, path string) []Fault {
	var faults []Fault
	if checker, ok := s.Addr().Interface().(Checker); ok {
		for _, f := range checker.Check() {
			faults = append(faults, Fault{join(path, f.Path), f.Message})
		}
	}
	for i := range s.NumField() {
		described := s.Type().Field(i)
		if described.Type.Kind() != reflect.Struct || !described.IsExported() {
			continue
		}
		name, _, _ := strings.Cut(described.Tag.Get("json"), ",")
		if name == "" && !described.Anonymous {
			name = described.Name
		}
		faults = append(faults, check(s.Field(i), join(path, name))...)
	}
	return faults
}

func join(path, name string) string {
	switch {
	case path == "":
		return name
	case name == "":
		return path
	default:
		return path + "." + name
	}
}

func orRoot(path string) string {
	if path == "" {
		return "the file"
	}
	return path
}
