package site

import "html/template"

// Parsed are the templates of all pages, whether asked for or not.
func (s *Site) Parsed() (map[string]*template.Template, error) {
	all := map[string]*template.Template{}
	for name, page := range s.pages {
		parsed, err := page()
		if err != nil {
			return nil, err
		}
		all[name] = parsed
	}
	return all, nil
}
