"""How people come in: a lead or house staff makes their account; nobody signs up by themselves."""

from allauth.account.adapter import DefaultAccountAdapter
from allauth.core import context as asked
from django.contrib.sites.shortcuts import get_current_site

from sites import post

TELL_NOTHING = ("account/email/password_reset_key", "account/email/unknown_account")


class HouseAdapter(DefaultAccountAdapter):
    def is_open_for_signup(self, request) -> bool:
        return False

    def send_mail(self, template_prefix: str, email: str, context: dict) -> bool:
        """Whether the letter left. Of some nobody may learn it: they tell who has an account here."""
        place = {"request": asked.request, "email": email, "current_site": get_current_site(asked.request)}
        letter = self.render_mail(template_prefix, email, {**place, **context})
        if template_prefix in TELL_NOTHING:
            post.hand_in_later(letter)
            return True
        return post.hand_in(letter)
