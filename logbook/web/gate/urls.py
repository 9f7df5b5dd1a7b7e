"""Addresses of getting in, of members, and of a person's own page."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from logbook.web.gate import entering, members, you
from logbook.web.gate.viewbase import own_door, visitors_door

urlpatterns = [
    path("login/", entering.Login.as_view(), name="login"),
    path("login/code/", entering.login_code, name="login-code"),
    path("login/passkey/", entering.login_passkey, name="login-passkey"),
    path("logout/", LogoutView.as_view(), name="logout"),
    path("sign-up/", entering.sign_up, name="sign-up"),
    path("reset/", visitors_door(entering.Reset.as_view()), name="reset"),
    path("reset/sent/", entering.ResetSent.as_view(), name="reset-sent"),
    path("reset/<uidb64>/<token>/", entering.ResetConfirm.as_view(), name="reset-confirm"),
    path("invitation/<str:token>/", entering.invitation, name="invitation"),
    path("members/", members.members, name="members"),
    path("members/<int:member_id>/", members.member, name="member"),
    path("members/<int:member_id>/out/", members.member_out, name="member-out"),
    path(
        "members/invitations/<uuid:invitation_id>/again/",
        members.invitation_again,
        name="member-invitation-again",
    ),
    path(
        "members/invitations/<uuid:invitation_id>/withdraw/",
        members.invitation_withdraw,
        name="member-invitation-withdraw",
    ),
    path("you/", you.you, name="you"),
    path("you/password/", own_door(you.ChangePassword.as_view()), name="you-password"),
    path("you/second-factor/", you.second, name="second-factor"),
    path("you/second-factor/set-up/", you.set_up, name="second-factor-set-up"),
    path("you/passkeys/add/", you.passkey_add, name="passkey-add"),
    path("you/passkeys/ask/", you.passkey_ask, name="passkey-ask"),
    path("you/passkeys/<int:passkey_id>/", you.passkey, name="passkey"),
    path("you/devices/out/", you.devices_out, name="you-devices-out"),
    path("you/tokens/out/", you.tokens_out, name="you-tokens-out"),
    path("you/devices/<uuid:device_id>/out/", you.device_out, name="you-device-out"),
]
