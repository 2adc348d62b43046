package definition

// Differing lists the keys that do not have the same limits in both.
func Differing(a, b []Key) []string {
	limits := map[string]string{}
	for _, k := range a {
		limits[k.Label] = k.Limits.Text
	}
	var out []string
	for _, k := range b {
		if limits[k.Label] != k.Limits.Text {
			out = append(out, k.Label)
		}
		delete(limits, k.Label)
	}
	for _, k := range a {
		if _, gone := limits[k.Label]; gone {
			out = append(out, k.Label)
		}
	}
	return out
}
