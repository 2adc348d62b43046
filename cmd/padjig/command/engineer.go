package command

import (
	"context"
	"fmt"
	"slices"

	"padjig/cmd/padjig/account"
	"padjig/results"
	"padjig/results/accounts"
)

// Engineer refuses a decision in the name of somebody who is no engineer. A
// terminal knows no passwords: where the records have accounts, the name must be
// that of an open one of that role, else anybody may decide.
func Engineer(ctx context.Context, s *results.Store, name string) error {
	all, err := s.Accounts.Accounts(ctx)
	if err != nil {
		return RecordsFailed(s, err)
	}
	if len(all) == 0 || slices.ContainsFunc(all, func(a accounts.Account) bool { return a.Name == name && a.Role == string(account.Engineer) }) {
		return nil
	}
	return Fail(Wrong, fmt.Errorf("%s has no account as engineer, and this is an engineer's decision", name),
		"--operator with the name of an engineer; who is one: padjig station accounts list"+StoreArgument(s))
}
