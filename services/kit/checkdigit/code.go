package checkdigit

const codeKind = "code"

// Code gives the check character of a code of digits and capital letters by ISO 7064 MOD 37,36. The character is itself a
// digit or a capital letter, so it prints and scans like the rest. Any one wrong character is found, and so are all but
// about one in six hundred of the swaps of two neighbours.
func Code(body string) (string, error) {
	state, err := hybrid(body)
	if err != nil {
		return "", err
	}
	return string("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"[(37-state)%36]), nil
}

// ValidCode checks a code that ends with its check character. It fails with ErrCheck, ErrCharacter or ErrLength.
func ValidCode(code string) error {
	if len(code) < 2 {
		return refuse(codeKind, code, ErrLength)
	}
	body, last := code[:len(code)-1], code[len(code)-1:]
	check, err := Code(body)
	if err != nil {
		return refuse(codeKind, code, ErrCharacter)
	}
	if _, ok := alphanumeric(last[0]); !ok {
		return refuse(codeKind, code, ErrCharacter)
	}
	if check != last {
		return refuse(codeKind, code, ErrCheck)
	}
	return nil
}

// hybrid is the recursion of ISO 7064 for its two-modulus systems, with moduli 36 and 37.
func hybrid(body string) (int, error) {
	if body == "" {
		return 0, refuse(codeKind, body, ErrLength)
	}
	state := 36
	for i := range len(body) {
		v, ok := alphanumeric(body[i])
		if !ok {
			return 0, refuse(codeKind, body, ErrCharacter)
		}
		state = (state + v) % 36
		if state == 0 {
			state = 36
		}
		state = state * 2 % 37
	}
	return state, nil
}

// alphanumeric reads 0 to 9 and A to Z as 0 to 35.
func alphanumeric(c byte) (int, bool) {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0'), true
	case c >= 'A' && c <= 'Z':
		return int(c-'A') + 10, true
	default:
		return 0, false
	}
}
