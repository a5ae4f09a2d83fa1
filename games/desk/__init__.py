"""The therapist's desk: who needs attention, what is ordered, what comes back.

list of patients -> one patient -> an order in the making -> try-out -> signature -> exchange folder
"""
