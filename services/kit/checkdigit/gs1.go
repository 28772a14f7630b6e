package checkdigit

import "strconv"

const gs1Kind = "GS1 number"

// GS1 gives the check digit of a GTIN-8, -12, -13, -14 or SSCC-18 without it: weights 3 and 1 alternate from the right, and
// the digit fills the sum up to a ten (GS1 General Specifications, check digit calculations).
func GS1(body string) (string, error) {
	values, err := digits(gs1Kind, body, 7, 11, 12, 13, 17)
	if err != nil {
		return "", err
	}
	return strconv.Itoa((10 - gs1Sum(values)%10) % 10), nil
}

// ValidGS1 checks a whole GTIN or SSCC. It fails with ErrCheck, ErrCharacter or ErrLength.
func ValidGS1(number string) error {
	values, err := digits(gs1Kind, number, 8, 12, 13, 14, 18)
	if err != nil {
		return err
	}
	last := len(values) - 1
	if (gs1Sum(values[:last])+values[last])%10 != 0 {
		return refuse(gs1Kind, number, ErrCheck)
	}
	return nil
}

func gs1Sum(body []int) int {
	sum := 0
	for i, v := range body {
		if (len(body)-i)%2 == 1 {
			v *= 3
		}
		sum += v
	}
	return sum
}
