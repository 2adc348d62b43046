package postgres

import "time"

// MostMembers is how many stations one database can tell apart.
const MostMembers = 1<<12 - 1

// epoch is where the numbers of runs begin.
var epoch = time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)

// RunNumber is the number of a run of a member that was stored at a time, when before is that of
// the member's run before it, 0 for none.
func RunNumber(member int, stored time.Time, before int64) int64 {
	ms := max(stored.Sub(epoch).Milliseconds(), before>>12+1)
	return ms<<12 | int64(member)
}

// RowNumber is the number of any other row that a member numbered.
func RowNumber(member int, local int64) int64 { return local<<12 | int64(member) }

// MemberOf is the member that a row is of, by its number.
func MemberOf(number int64) int { return int(number & MostMembers) }

// RunTime is the time that the number of a run says, to the millisecond.
func RunTime(number int64) time.Time { return epoch.Add(time.Duration(number>>12) * time.Millisecond) }
