"""Free times for one request, out of the record: found, ranked, narrowed, and taken.

A site's days become a network and the plan of what is booked there (`book`), which the engine's
offers desk answers from (`desk`, kept per process while the record says the same: `stamp`). `ask`
asks every site of a request and ranks what they offer together; `why` says why a request has no
place; `take` books or moves, after looking once more.
"""
