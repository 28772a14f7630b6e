package rest

import (
	"encoding/json"
	"fmt"
	"strings"
	"unicode"
)

// anySegment is how the generator writes one free part of a resource name.
const anySegment = "[^/]+"

// spellOut turns "/v1/{name_10}", whose variable stands for "payouts/[^/]+", into "/v1/payouts/{payout}": what is
// written is then what is sent, and generated clients do not escape the slash.
func (d document) spellOut() error {
	spelled := map[string]map[string]map[string]json.RawMessage{}
	for path, operations := range d.paths {
		for verb, operation := range operations {
			plain, err := spell(path, operation)
			if err != nil {
				return fmt.Errorf("%s %s: %w", verb, path, err)
			}
			if spelled[plain] == nil {
				spelled[plain] = map[string]map[string]json.RawMessage{}
			}
			spelled[plain][verb] = operation
		}
	}
	clear(d.paths)
	for path, operations := range spelled {
		d.paths[path] = operations
	}
	return nil
}

// spell rewrites the path parameters of one operation and returns its path.
func spell(path string, operation map[string]json.RawMessage) (string, error) {
	var given, kept []map[string]any
	if raw, has := operation["parameters"]; has {
		if err := json.Unmarshal(raw, &given); err != nil {
			return "", fmt.Errorf("parameters: %w", err)
		}
	}
	for _, parameter := range given {
		pattern, _ := parameter["pattern"].(string)
		if parameter["in"] != "path" || !strings.Contains(pattern, anySegment) {
			kept = append(kept, parameter)
			continue
		}
		plain, names := nameSegments(pattern)
		path = strings.Replace(path, fmt.Sprintf("{%s}", parameter["name"]), plain, 1)
		for _, name := range names {
			kept = append(kept, map[string]any{"name": name, "in": "path", "required": true, "type": "string", "description": parameter["description"]})
		}
	}
	if len(kept) == 0 {
		return path, nil
	}
	var err error
	if operation["parameters"], err = json.Marshal(kept); err != nil {
		return "", fmt.Errorf("parameters: %w", err)
	}
	return path, nil
}

// nameSegments names each free part after the collection before it: "payouts/[^/]+" becomes "payouts/{payout}".
func nameSegments(pattern string) (plain string, names []string) {
	// The class itself holds a slash.
	segments := strings.Split(strings.ReplaceAll(pattern, anySegment, "*"), "/")
	for i, s := range segments {
		if s == "*" && i > 0 {
			name := snake(strings.TrimSuffix(segments[i-1], "s"))
			names = append(names, name)
			segments[i] = "{" + name + "}"
		}
	}
	return strings.Join(segments, "/"), names
}

// snake writes "controlRun" as "control_run", like every other name of the description.
func snake(name string) string {
	var out strings.Builder
	for _, r := range name {
		if unicode.IsUpper(r) {
			out.WriteByte('_')
		}
		out.WriteRune(unicode.ToLower(r))
	}
	return out.String()
}
