package domain

import "strconv"

const oldestCrop = 5

// CropYear refuses honey from the future, and honey older than five years.
func CropYear(year, thisYear int) error {
	if year >= thisYear-oldestCrop && year <= thisYear {
		return nil
	}
	return outOfRange("crop_year", strconv.Itoa(thisYear-oldestCrop), strconv.Itoa(thisYear),
		"crop year %d cannot be delivered: it must be from %d to %d", year, thisYear-oldestCrop, thisYear)
}
