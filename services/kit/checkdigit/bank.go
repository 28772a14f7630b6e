package checkdigit

import (
	"fmt"
	"strconv"
)

const abaKind = "bank routing number"

// ABA gives the ninth digit of a United States bank routing number: weights 3, 7, 1 repeat and the sum is a multiple of ten.
func ABA(body string) (string, error) {
	values, err := digits(abaKind, body, 8)
	if err != nil {
		return "", err
	}
	return strconv.Itoa((10 - abaSum(values)%10) % 10), nil
}

// ValidABA checks a nine-digit routing number. Nine zeros pass the sum and are refused, since no bank has them.
func ValidABA(number string) error {
	values, err := digits(abaKind, number, 9)
	if err != nil {
		return err
	}
	if sum := abaSum(values); sum == 0 || sum%10 != 0 {
		return refuse(abaKind, number, ErrCheck)
	}
	return nil
}

func abaSum(values []int) int {
	sum := 0
	for i, v := range values {
		sum += v * [...]int{3, 7, 1}[i%3]
	}
	return sum
}

const ibanKind = "account number"

// IBAN gives the two check digits of an international bank account number from its country code and the rest (ISO 13616;
// the check is ISO 7064 MOD 97-10). It finds any one wrong digit and any swap of two digits.
func IBAN(country, rest string) (string, error) {
	rem, err := ibanRemainder(country + "00" + rest)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%02d", 98-rem), nil
}

// ValidIBAN checks an account number written without spaces and in capitals. The length of each country is not known here.
func ValidIBAN(number string) error {
	rem, err := ibanRemainder(number)
	if err != nil {
		return err
	}
	// Check digits 00, 01 and 99 would leave the same remainder as 97, 98 and 02, and are never issued.
	if check := number[2:4]; rem != 1 || check < "02" || check > "98" {
		return refuse(ibanKind, number, ErrCheck)
	}
	return nil
}

// ibanRemainder moves the first four characters to the end, reads A as 10 up to Z as 35, and divides by 97.
func ibanRemainder(number string) (int, error) {
	if len(number) < 5 || len(number) > 34 {
		return 0, refuse(ibanKind, number, ErrLength)
	}
	rem := 0
	for i := range len(number) {
		at := (i + 4) % len(number)
		v, ok := alphanumeric(number[at])
		if !ok || (at < 2 && v < 10) || (at == 2 || at == 3) && v > 9 {
			return 0, refuse(ibanKind, number, ErrCharacter)
		}
		if v > 9 {
			rem *= 10
		}
		rem = (rem*10 + v) % 97
	}
	return rem, nil
}
