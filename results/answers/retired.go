package answers

import (
	"path/filepath"

	"padjig/results/plant/view"
)

// Retired says that readings of months are not there any more, and where they are: once for months in a row that lie in one
// folder. Nothing for none.
func Retired(months []view.Retired) (all []Sentence) {
	for len(months) > 0 {
		n := 1
		for n < len(months) && months[n].Low == months[n-1].High && above(months[n]) == above(months[0]) {
			n++
		}
		first, last, folder := months[0].Month, months[n-1].Month, months[0].Folder
		if n > 1 {
			folder = above(months[0])
		}
		switch {
		case folder == "":
			all = append(all, Warn("retired.somewhere", first, last))
		default:
			all = append(all, Warn("retired.months", first, last, folder))
		}
		months = months[n:]
	}
	return all
}

// above is the folder in which those of months lie.
func above(m view.Retired) string {
	if m.Folder == "" {
		return ""
	}
	return filepath.Dir(m.Folder)
}
