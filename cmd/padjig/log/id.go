package log

import "crypto/rand"

// letters are those that nobody takes for another when they are read out, or off a screen: no
// i, l, o, 0, 1.
const letters = "abcdefghjkmnpqrstuvwxyz23456789"

// NewID is a word for one event, by which a person who was told it and the log meet.
func NewID() string {
	id := make([]byte, 8)
	rand.Read(id)
	for i := range id {
		id[i] = letters[int(id[i])%len(letters)]
	}
	return string(id)
}
