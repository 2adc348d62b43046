package units

// Query is what is asked.
const Query = query

// Lately has so many runs be looked at first.
func (s *Records) Lately(n int) { s.lately = n }
