package site

import (
	"encoding/base64"
	"fmt"
	"io"

	"barrelhead.example/services/kit/apierr"
)

// SentFile is the chosen file, or the one that was checked already.
func SentFile(v *Visit) (content []byte, checked bool, err error) {
	if carried := v.PostForm.Get("content"); carried != "" {
		content, err = base64.StdEncoding.DecodeString(carried)
		if err != nil {
			return nil, false, apierr.Field("file", "did not arrive whole; choose it again")
		}
		return content, true, nil
	}
	content, err = ChosenFile(v, "must be chosen")
	return content, false, err
}

// ChosenFile reads the field "file" of a form; absent says what is wrong where nothing was chosen.
func ChosenFile(v *Visit, absent string) ([]byte, error) {
	chosen, _, err := v.FormFile("file")
	if err != nil {
		return nil, apierr.Field("file", absent)
	}
	defer func() { _ = chosen.Close() }() // held in memory
	content, err := io.ReadAll(chosen)
	if err != nil {
		return nil, fmt.Errorf("read the chosen file: %w", err)
	}
	return content, nil
}

// Carried is a checked file as the page carries it to the next step.
func Carried(content []byte) string { return base64.StdEncoding.EncodeToString(content) }
