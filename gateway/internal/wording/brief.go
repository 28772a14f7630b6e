package wording

import "strings"

// shortID is how much of a long id tells two things apart as a rule.
const shortID = 8

// Brief gives resource names the ids people read: the first eight characters, or all of an id where another of its kind begins alike.
func Brief(names []string) map[string]string {
	ids := map[string]string{} // by kind and what the id begins with; empty where several begin so
	for _, name := range names {
		kind, id, _ := strings.Cut(name, "/")
		start := kind + "/" + begins(id)
		if first, seen := ids[start]; seen && first != id {
			id = ""
		}
		ids[start] = id
	}
	brief := make(map[string]string, len(names))
	for _, name := range names {
		kind, id, _ := strings.Cut(name, "/")
		if brief[name] = begins(id); ids[kind+"/"+begins(id)] == "" {
			brief[name] = id
		}
	}
	return brief
}

func begins(id string) string { return id[:min(shortID, len(id))] }

// NoContact is said of a customer nobody wrote down whom to call about.
const NoContact = "no contact on record"
